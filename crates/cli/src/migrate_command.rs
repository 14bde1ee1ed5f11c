//! `capful migrate`: a database's tables brought up to this version.

use capful_store::Store;

use crate::answer::{Answer, Failure};
use crate::args::MigrateArgs;
use crate::database;
use crate::render::counted;

/// Makes the tables that are missing, as `capful serve` does. Where a shop is there already, a copy
/// of an SQLite database is kept beside it before.
///
/// # Errors
/// [`Failure`] where there is no database, no copy can be kept, or a step fails.
pub fn run(args: &MigrateArgs) -> Result<Answer, Failure> {
    let settings = database::settings(&args.place)?;
    let migrated = database::wait(async {
        database::hold_there(&settings)?;
        let store = Store::open(&settings.database).await?;
        let migrated = store.migrate().await;
        store.close().await;
        Ok(migrated?)
    })?;
    let url = database::shown(&settings.database);
    if migrated.steps.is_empty() {
        let text = format!("The tables of {url} are of this version already.\n");
        return Ok(Answer::yes(text, Vec::new()));
    }
    let steps = counted(migrated.steps.len(), "step", "steps");
    let mut text = format!("Brought the tables of {url} up to this version, by {steps}.\n");
    if let Some(copy) = &migrated.copy {
        text.push_str(&format!("What stood there before is kept as {}.\n", copy.display()));
    }
    Ok(Answer::yes(text, Vec::new()))
}
