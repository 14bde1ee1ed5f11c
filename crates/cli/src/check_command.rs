//! `capful check`: every container added up again from the ledger, what the shelf holds, and
//! whether the database itself is well.

use capful_domain::Snapshot;
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::CheckArgs;
use crate::render::{Ink, counted, shelf_of, shelf_screen};
use crate::shelf::{CheckedDatabase, Difference, Shelf};
use crate::{database, folder, plan_command};

/// Adds the ledger of a folder or of a database up and lists the shelf. The answer is no where
/// something differs.
///
/// # Errors
/// [`Failure`] where the folder or the database cannot be read, or has no product of the name to
/// open.
pub fn run(args: &CheckArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let (shelf, mut notes) = match &args.folder {
        Some(path) => {
            let (snapshot, notes) = folder::snapshot(path, &args.report, now)?;
            (Shelf::of(&snapshot), notes)
        }
        None => (of_database(args, now)?, Vec::new()),
    };
    let text = match &args.open {
        None if args.report.json => plan_command::json(&shelf)?,
        None => format!("{}{}", shelf_screen(&shelf, ink), looked_at(&shelf)),
        Some(product) => shelf_of(&shelf, product, ink).ok_or_else(|| Failure::NothingCalled {
            place: "this shop",
            what: product.clone(),
            known: "try the id of a product".to_owned(),
        })?,
    };
    notes.extend(shelf.differences.iter().map(|d| {
        format!(
            "error: container {}: the books say {}, it adds up to {} (ledger units)",
            d.container, d.books, d.sum
        )
    }));
    let wrong = shelf.database.as_ref().map(|database| database.wrong.as_slice());
    let wrong = wrong.unwrap_or_default();
    notes.extend(wrong.iter().map(|line| format!("error: {line}")));
    Ok(Answer { text, notes, yes: shelf.differences.is_empty() && wrong.is_empty() })
}

/// A line on what of the database was looked at.
fn looked_at(shelf: &Shelf) -> String {
    let Some(database) = &shelf.database else { return String::new() };
    let what = match database.file {
        true => "The file from end to end, its foreign keys",
        false => "Constraints",
    };
    format!(
        "{what}, {}, {} and {} were looked at: {}.\n",
        counted(database.indexes, "index", "indexes"),
        counted(database.answers, "kept answer", "kept answers"),
        counted(database.audit_entries, "entry of who did what", "entries of who did what"),
        match database.wrong.len() {
            0 => "all is well".to_owned(),
            n => counted(n, "thing is wrong", "things are wrong"),
        }
    )
}

/// The shelf as the books of the database have it; as of another moment, as its rows add up.
fn of_database(args: &CheckArgs, now: DateTime<Utc>) -> Result<Shelf, Failure> {
    let settings = database::settings(&args.place.database)?;
    database::wait(async {
        let store = database::open_to_read(&settings).await?;
        let found = store.inspect().await?;
        if !found.damaged.is_empty() {
            store.close().await;
            return Err(Failure::Refused(format!(
                "the database is damaged: bring a copy back with `capful restore`\n{}",
                found.damaged.join("\n")
            )));
        }
        let (id, shop) = database::shop(&store, args.place.shop.as_deref()).await?;
        if let Some(as_of) = args.report.as_of.map(|as_of| as_of.moment(&shop)) {
            let facts = store.facts(id, Some(as_of)).await?;
            store.close().await;
            return Ok(Shelf::of(&Snapshot::of(&facts, as_of)));
        }
        let (snapshot, books) = store.standing(id, now).await?;
        let checked = store.check(id).await?;
        store.close().await;
        let mut shelf = Shelf::of_books(&snapshot, &books);
        shelf.database = Some(CheckedDatabase::of(&found));
        shelf.movements = checked.movements;
        shelf.differences =
            checked.wrong.iter().chain(&checked.otherwise).map(difference).collect();
        Ok(shelf)
    })
}

fn difference(wrong: &capful_store::Difference) -> Difference {
    let (books, sum) = (wrong.left.ledger_units(), wrong.expected.ledger_units());
    Difference { container: wrong.container.to_string(), books, sum }
}
