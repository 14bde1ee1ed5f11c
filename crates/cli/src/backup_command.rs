//! `capful backup`: a database copied into one file, or such a copy looked over.

use std::fmt::Write as _;
use std::path::Path;

use capful_store::{BackupOptions, Store, Verified, bytes_text, checksum_of, verify_backup};

use crate::answer::{Answer, Failure};
use crate::args::BackupArgs;
use crate::database;
use crate::progress::Progress;
use crate::render::counted;

/// Copies a database, or looks a copy over. The answer is no where something is wrong with it.
///
/// # Errors
/// [`Failure`] where the file is there already, the disk is too full, or there is no database.
pub fn run(args: &BackupArgs) -> Result<Answer, Failure> {
    if args.verify {
        let progress = Progress::begin("looking the copy over");
        let verified = database::wait(async { Ok(verify_backup(&args.file).await?) })?;
        drop(progress);
        return Ok(told(&args.file, &verified));
    }
    let settings = database::settings(&args.place)?;
    let progress = Progress::begin("copying the database");
    let verified = database::wait(async {
        database::hold_there(&settings)?;
        let store = Store::open_to_read(&settings.database).await?;
        let step = |done, of| progress.step(size(done), size(of));
        let options =
            BackupOptions { may_replace: args.force, progress: &step, ..BackupOptions::default() };
        let made = store.backup(&args.file, &options).await;
        store.close().await;
        Ok(made?)
    })?;
    drop(progress);
    let mut answer = told(&args.file, &verified);
    let (file, checksum) = (args.file.display(), checksum_of(&args.file));
    let line =
        format!("Copied the database to {file}, and its checksum to {}.", checksum.display());
    answer.text = format!("{line}\n{}", answer.text);
    Ok(answer)
}

/// A number of rows as a bar has it.
pub(crate) fn size(rows: u64) -> usize {
    usize::try_from(rows).unwrap_or(usize::MAX)
}

/// What looking a copy over found.
fn told(file: &Path, copy: &Verified) -> Answer {
    let mut text = format!("{}: {}", file.display(), bytes_text(copy.bytes));
    let found = &copy.inspection;
    if copy.steps_behind == 0 && copy.is_whole() {
        let _ = write!(
            text,
            ", {}, {}, {}",
            counted(found.indexes, "index", "indexes"),
            counted(found.answers, "kept answer", "kept answers"),
            counted(found.audit_entries, "entry of who did what", "entries of who did what")
        );
    }
    text.push_str(".\n");
    for (name, checked) in &copy.shops {
        let verdict = match checked.wrong.len() + checked.otherwise.len() {
            0 => "all add up".to_owned(),
            n => counted(n, "does not add up", "do not add up"),
        };
        let containers = counted(checked.containers, "container", "containers");
        let movements = counted(checked.movements, "movement", "movements");
        let _ = writeln!(text, "{name}: {containers}, {movements}: {verdict}.");
    }
    let mut notes = Vec::new();
    if !copy.has_checksum && copy.is_whole() {
        let checksum = checksum_of(file);
        notes.push(format!("warning: there is no checksum beside it ({})", checksum.display()));
    }
    if copy.steps_behind > 0 {
        let behind = counted(copy.steps_behind, "step", "steps");
        notes.push(format!(
            "note: its tables are of an older version, {behind} behind, so the books were not \
             added up: `capful migrate` brings them up once it is restored"
        ));
    }
    notes.extend(found.damaged.iter().map(|line| format!("error: {line}")));
    notes.extend(copy.wrong().iter().map(|line| format!("error: {line}")));
    let yes = copy.is_well();
    text.push_str(if yes { "The copy is well.\n" } else { "The copy is not well.\n" });
    Answer { text, notes, yes }
}
