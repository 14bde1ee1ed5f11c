//! `capful erase`: takes a vehicle's words out of the database, once it was seen where they stand.

use std::fmt::Write as _;

use capful_domain::{Job, Word};
use capful_store::{By, Erased};
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::EraseArgs;
use crate::database;
use crate::render::counted;

/// Lists the jobs that name a vehicle; with `--yes` erases the words there and wherever else they
/// stand. The answer is no where they stand nowhere.
///
/// # Errors
/// [`Failure`] where there is no shop, no words, or the database cannot be written.
pub fn run(args: &EraseArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let settings = database::settings(&args.place.database)?;
    let words = args.vehicle.as_str();
    let (jobs, erased) = database::wait(async {
        let store = database::open_existing(&settings).await?;
        let shop = database::shop(&store, args.place.shop.as_deref()).await?.0;
        let jobs = store.jobs_of_vehicle(shop, words).await?;
        let erased = match args.yes {
            true => Some(store.erase_vehicle(shop, words, now, By::Nobody).await?),
            false => None,
        };
        store.close().await;
        Ok((jobs, erased))
    })?;
    Ok(match erased {
        None => Answer::yes(asked(&jobs), Vec::new()),
        Some(erased) => {
            Answer { text: done(&erased), notes: Vec::new(), yes: !erased.is_nothing() }
        }
    })
}

/// What would be done.
fn asked(jobs: &[Job]) -> String {
    if jobs.is_empty() {
        return "No job names this vehicle. With --yes the words are erased all the same where \
                earlier edits of jobs hold them.\n"
            .to_owned();
    }
    let mut text = format!("{} this vehicle:\n", counted(jobs.len(), "job names", "jobs name"));
    for job in jobs {
        let _ = writeln!(text, "  {:<20} {}  {}", job.id, job.planned_on, job.status.word());
    }
    text + "Nothing was changed. The same with --yes erases the words there and in earlier edits; \
            the jobs and what they took stay. It cannot be undone.\n"
}

/// What was done.
fn done(erased: &Erased) -> String {
    if erased.is_nothing() {
        return "These words stand nowhere: nothing was changed.\n".to_owned();
    }
    format!(
        "Erased the words in {}, {} and {}. Exported folders and backups made before still hold \
         them.\n",
        counted(erased.jobs.len(), "job", "jobs"),
        counted(erased.edits, "earlier edit", "earlier edits"),
        counted(erased.answers, "kept answer", "kept answers")
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use capful_domain::Id;

    #[test]
    fn what_was_erased_is_said_without_the_words() {
        let jobs = vec![Id::parse("J-1").unwrap()];
        let erased = Erased { jobs, edits: 2, ..Erased::default() };
        let text = "Erased the words in 1 job, 2 earlier edits and 0 kept answers. Exported \
                    folders and backups made before still hold them.\n";
        assert_eq!(done(&erased), text);
        assert!(done(&Erased::default()).starts_with("These words stand nowhere"));
    }
}
