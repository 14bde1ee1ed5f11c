//! `capful restore`: a copy of a database put in its place.

use capful_store::{BackupOptions, bytes_text, restore_backup};
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::RestoreArgs;
use crate::backup_command::size;
use crate::database;
use crate::progress::Progress;
use crate::render::counted;

/// Looks a copy over and puts it in the place of the database that the settings name.
///
/// # Errors
/// [`Failure`] where the copy is damaged, or the database is not empty or in use.
pub fn run(args: &RestoreArgs, now: DateTime<Utc>) -> Result<Answer, Failure> {
    let settings = database::settings(&args.place)?;
    let progress = Progress::begin("looking the copy over");
    let restored = database::wait(async {
        let step = |done, of| progress.step(size(done), size(of));
        let options =
            BackupOptions { may_replace: args.force, progress: &step, ..BackupOptions::default() };
        Ok(restore_backup(&args.file, &settings.database, &options, now).await?)
    })?;
    drop(progress);
    let (file, url) = (args.file.display(), database::shown(&settings.database));
    let mut text = format!("Restored {file} ({}) to {url}.\n", bytes_text(restored.copy.bytes));
    if let Some(kept) = &restored.kept {
        text.push_str(&format!("What stood there before is kept as {}.\n", kept.display()));
    }
    let copy = &restored.copy;
    let mut notes = Vec::new();
    if !copy.has_checksum {
        notes.push("warning: there was no checksum beside the copy".to_owned());
    }
    if copy.steps_behind > 0 {
        let behind = counted(copy.steps_behind, "step", "steps");
        notes.push(format!(
            "note: its tables are of an older version, {behind} behind: `capful migrate` brings \
             them up, and so does `capful serve`"
        ));
    }
    let wrong = copy.wrong();
    notes.extend(wrong.iter().map(|line| format!("warning: as it was copied, {line}")));
    Ok(Answer::yes(text, notes))
}
