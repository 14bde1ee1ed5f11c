//! The tables are brought up to this version.

use std::time::Duration;

use capful_migrations::Migrator;
use sea_orm_migration::MigratorTrait;

use crate::db::connection::{self, Making};
use crate::db::error::{StoreError, failed};
use crate::db::pending_steps as steps;
use crate::db::store::Store;
use crate::upkeep::steps::Migrated;

/// How often making the tables is tried: for some three seconds.
const MAKING_TRIES: u64 = 16;

impl Store {
    /// Makes the tables that are not there yet. Services that start together may do so together.
    /// Where a shop is there already, a copy of an SQLite database is kept beside it before.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where no copy can be kept, [`StoreError::Database`] where a step
    /// fails; each is made whole or not at all.
    pub async fn migrate(&self) -> Result<Migrated, StoreError> {
        let making = Making::alone(&self.writer).await.map_err(connection::failed)?;
        let migrated = self.keep_before(&steps::pending(&self.readers).await?).await?;
        let mut made = Migrator::up(&self.writer, None).await;
        // Of two that make the tables of one file, one finds a step half made, or made.
        for attempt in 1..MAKING_TRIES {
            if made.is_ok() {
                break;
            }
            tokio::time::sleep(Duration::from_millis(20 * attempt)).await;
            made = Migrator::up(&self.writer, None).await;
        }
        if let Some(making) = making {
            making.end().await;
        }
        made.map_err(failed)?;
        Ok(migrated)
    }
}
