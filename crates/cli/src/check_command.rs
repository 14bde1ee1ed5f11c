//! `capful check`: every container added up again from the ledger, and what the shelf holds.

use capful_domain::Snapshot;
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::CheckArgs;
use crate::render::{Ink, shelf_of, shelf_screen};
use crate::shelf::{Difference, Shelf};
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
        None => shelf_screen(&shelf, ink),
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
    Ok(Answer { text, notes, yes: shelf.differences.is_empty() })
}

/// The shelf as the books of the database have it; as of another moment, as its rows add up.
fn of_database(args: &CheckArgs, now: DateTime<Utc>) -> Result<Shelf, Failure> {
    let settings = database::settings(&args.place)?;
    database::wait(async {
        let store = database::open_existing(&settings).await?;
        let (id, shop) = database::shop(&store).await?;
        if let Some(as_of) = args.report.as_of.map(|as_of| as_of.moment(&shop)) {
            let facts = store.facts(id, Some(as_of)).await?;
            return Ok(Shelf::of(&Snapshot::of(&facts, as_of)));
        }
        let (snapshot, books) = store.standing(id, now).await?;
        let checked = store.check(id).await?;
        store.close().await;
        let mut shelf = Shelf::of_books(&snapshot, &books);
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
