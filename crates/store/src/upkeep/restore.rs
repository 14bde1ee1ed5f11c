//! A copy of a database back in its place.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};

use crate::db::disk::{self, file_error};
use crate::db::error::StoreError;
use crate::db::sqlite_file;
use crate::upkeep::backup::{self, BackupOptions, Verified};
use crate::upkeep::install::{self, Replace};
use crate::upkeep::relocate;

/// What was brought back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// What looking over the copy found, before it was used.
    pub copy: Verified,
    /// Where the database is kept that stood in the place before, where one did.
    pub kept: Option<PathBuf>,
}

/// Brings a copy back: it is looked over first, and then stands in the database's place, whole or
/// not at all. With `may_replace` an SQLite database that is not empty makes room for it and is
/// kept beside; PostgreSQL's has to be empty.
///
/// # Errors
/// [`StoreError::Refused`] where the copy is damaged or is not the file that was written, the
/// database is not empty or in use, or the disk is too full; [`StoreError::Database`].
pub async fn restore_backup(
    copy: &Path,
    url: &str,
    options: &BackupOptions<'_>,
    now: DateTime<Utc>,
) -> Result<Restored, StoreError> {
    let verified = backup::verify_backup(copy).await?;
    if let Some(damage) = verified.inspection.damaged.first() {
        let text = format!("{} is damaged, so nothing was written: {damage}", copy.display());
        return Err(StoreError::Refused(text));
    }
    if !url.starts_with("sqlite:") {
        let from = sqlite_file::open_copy(copy).await?;
        let moved = relocate::into_postgres(&from, url, options.progress).await;
        // What fails to close is closed by its end.
        let _ = from.close().await;
        return moved.map(|_| Restored { copy: verified, kept: None });
    }
    let target = sqlite_file::path_of(url)?;
    if disk::is_same(copy, &target) {
        let text = format!("{} is the database itself: name a copy of it", copy.display());
        return Err(StoreError::Refused(text));
    }
    disk::hold_room(&target, verified.bytes, options.free_space)?;
    let part = disk::part_of(&target)?;
    let copied = copy_bytes(copy, &part).and_then(|()| disk::sha256_of(&part));
    let sha256 = copied.map_err(|error| file_error(&target, &error))?;
    if sha256 != verified.sha256 {
        let text = format!("{} changed while it was read: nothing was written", copy.display());
        return Err(StoreError::Refused(text));
    }
    let replace = if options.may_replace { Replace::Any } else { Replace::Empty };
    let kept = install::install(part, &target, replace, now).await?;
    Ok(Restored { copy: verified, kept })
}

/// Copies the bytes alone: who may read the file stays as it is.
fn copy_bytes(from: &Path, to: &Path) -> io::Result<()> {
    io::copy(&mut File::open(from)?, &mut File::options().write(true).open(to)?)?;
    Ok(())
}
