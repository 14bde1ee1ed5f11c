//! `capful import`: what is new in a shop folder, into a database or a running service.

use std::fmt::Write as _;

use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure, oddities};
use crate::args::ImportArgs;
use crate::progress::Progress;
use crate::render::counted;
use crate::{database, remote};

/// Takes over what is new in a folder: all of it or nothing.
///
/// # Errors
/// [`Failure`] where the folder cannot be read, or a row is there with other content.
pub fn run(args: &ImportArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let progress = Progress::begin("reading the folder");
    let read = capful_folder::read(&args.folder).map_err(|errors| Failure::Folder { errors })?;
    let notes = oddities(&read.warnings, read.more_warnings);
    progress.now("taking over what is new");
    let (facts, service) = (read.facts, remote::Service::of(&args.server)?);
    let added: Vec<(String, usize)> = if let Some(service) = service {
        database::wait(service.import(&facts))?
    } else {
        let settings = database::settings(&args.place.database)?;
        let outcome = database::wait(async {
            let store = database::open(&settings).await?;
            let outcome = database::import(&store, args.place.shop.as_deref(), facts, now).await?;
            store.close().await;
            Ok(outcome)
        })?;
        outcome.added.into_iter().map(|(file, rows)| (file.to_owned(), rows)).collect()
    };
    Ok(Answer::yes(said(&added), notes))
}

/// What was added, file by file.
fn said(added: &[(String, usize)]) -> String {
    let total: usize = added.iter().map(|(_, rows)| rows).sum();
    if total == 0 {
        return "Nothing is new: every row was there already.\n".to_owned();
    }
    let mut text = format!("Took over {}.\n", counted(total, "row", "rows"));
    for (file, rows) in added {
        let _ = writeln!(text, "  {file:<16} {rows:>6}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_added_is_said_by_file() {
        let added = [("jobs.csv".to_owned(), 12), ("pours.csv".to_owned(), 340)];
        let text = "Took over 352 rows.\n  jobs.csv             12\n  pours.csv           340\n";
        assert_eq!(said(&added), text);
        assert_eq!(said(&[]), "Nothing is new: every row was there already.\n");
    }
}
