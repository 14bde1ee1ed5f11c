//! `capful move`: a whole database moved into an empty one.

use capful_store::{free_space, move_database};
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::MoveArgs;
use crate::backup_command::size;
use crate::database;
use crate::progress::Progress;
use crate::render::counted;
use crate::settings::Settings;

/// Moves a whole database: people, tokens, sessions and who did what are moved too.
///
/// # Errors
/// [`Failure`] where the one is not there or the other is not empty.
pub fn run(args: &MoveArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let from = Settings { database: args.from.clone(), ..Settings::default() };
    let progress = Progress::begin("moving rows");
    let moved = database::wait(async {
        let store = database::open_to_read(&from).await?;
        let step = |done, of| progress.step(size(done), size(of));
        let moved = move_database(&store, &args.to, now, &free_space, &step).await;
        store.close().await;
        Ok(moved?)
    })?;
    drop(progress);
    let (from, to) = (database::shown(&args.from), database::shown(&args.to));
    let text = format!(
        "Moved {} in {} from {from} to {to}: both sides hold the same, and the books of {} add up \
         the same.\nNothing was changed in {from}: put {to} into the settings, and keep the old \
         one until you trust the new.\n",
        counted(size(moved.rows()), "row", "rows"),
        counted(moved.tables.len(), "table", "tables"),
        counted(moved.shops.len(), "shop", "shops"),
    );
    Ok(Answer::yes(text, Vec::new()))
}
