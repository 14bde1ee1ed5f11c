//! Which steps of the migrations a database has made, and the copy that is kept of it before more
//! are made.

use std::path::{Path, PathBuf};

use crate::db::disk;
use crate::db::error::StoreError;
use crate::db::pending_steps::{all, pending};
use crate::db::sqlite_file;
use crate::db::store::Store;
use crate::queries::facts;
use crate::upkeep::backup::{self, BackupOptions};

/// What bringing the tables up to this version did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Migrated {
    /// The steps that were to be made.
    pub steps: Vec<String>,
    /// The copy that was kept of what stood there before, where something did.
    pub copy: Option<PathBuf>,
}

impl Store {
    /// Keeps a copy of an SQLite database beside it, named after the first of the steps that are
    /// to be made; of PostgreSQL none is made, and the log says so. An empty one needs none.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where there is no room for it: then no step may be made.
    pub(crate) async fn keep_before(&self, pending: &[String]) -> Result<Migrated, StoreError> {
        let mut migrated = Migrated { steps: pending.to_vec(), copy: None };
        let Some(first) = pending.first().filter(|_| pending.len() < all()) else {
            return Ok(migrated);
        };
        if facts::shop_ids(&self.readers).await?.is_empty() {
            return Ok(migrated);
        }
        let Some(file) = self.sqlite_file() else {
            tracing::warn!(
                steps = pending.len(),
                "the tables are brought up to this version, and no copy of the database was made: \
                 pg_dump makes one"
            );
            return Ok(migrated);
        };
        let copy = disk::beside(&file, &format!(".before-{first}"));
        if self.copy_before(&file, &copy, first).await? {
            tracing::info!(copy = %copy.display(), "kept a copy of the database as it was");
            migrated.copy = Some(copy);
        }
        Ok(migrated)
    }

    /// Makes that copy; not where another service was faster, and has made the steps meanwhile.
    async fn copy_before(&self, file: &Path, copy: &Path, first: &str) -> Result<bool, StoreError> {
        let part = disk::part_of(copy)?;
        disk::hold_room(copy, self.size().await?, BackupOptions::default().free_space)?;
        sqlite_file::copy_online(file, &part).await?;
        let made = sqlite_file::open_copy(&part).await?;
        let still_pending = pending(&made).await;
        // What fails to close is closed by its end.
        let _ = made.close().await;
        if still_pending?.first().is_none_or(|step| step != first) {
            return Ok(false);
        }
        let verified = backup::verify_file(&part).await?;
        if let Some(damage) = verified.inspection.damaged.first() {
            let text = format!(
                "the database is damaged, so it was not brought up to this version: {damage}"
            );
            return Err(StoreError::Refused(text));
        }
        disk::put(part, copy, true)?;
        Ok(true)
    }
}
