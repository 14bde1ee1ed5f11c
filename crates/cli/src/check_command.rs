//! `capful check`: every container added up again from the ledger, and what the shelf holds.

use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::CheckArgs;
use crate::render::{Ink, shelf_of, shelf_screen};
use crate::shelf::Shelf;
use crate::{folder, plan_command};

/// Adds the ledger of a folder up and lists the shelf. The answer is no where something differs.
///
/// # Errors
/// [`Failure`] where the folder cannot be read or has no product of the name to open.
pub fn run(args: &CheckArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let (snapshot, mut notes) = folder::snapshot(&args.folder, &args.report, now)?;
    let shelf = Shelf::of(&snapshot);
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
            "error: container {}: the books say {}, its movements add up to {} (ledger units)",
            d.container, d.books, d.sum
        )
    }));
    Ok(Answer { text, notes, yes: shelf.differences.is_empty() })
}
