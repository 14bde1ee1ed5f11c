//! The store itself: its connections, and transactions that begin on them.

use std::collections::HashSet;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex};

use capful_domain::Id;
use chrono::{DateTime, Utc};
use sea_orm::{
    DatabaseConnection, DatabaseTransaction, DbBackend, SqliteTransactionMode, TransactionOptions,
    TransactionTrait,
};
use uuid::{ContextV7, Timestamp, Uuid};

use crate::db::backup_status::BackupStatus;
use crate::db::connection;
use crate::db::error::{self, StoreError, failed};
use crate::db::group_commit::Groups;
use crate::db::locks::wait_for;
use crate::db::pending_steps;
use crate::db::write_health::WriteHealth;

/// A database with any number of shops.
#[derive(Debug)]
pub struct Store {
    pub(crate) writer: DatabaseConnection,
    pub(crate) readers: DatabaseConnection,
    pub(crate) together: Groups,
    ids: Mutex<ContextV7>,
    pub(crate) running: Mutex<HashSet<(Uuid, String)>>,
    pub(crate) statements: Arc<AtomicU64>,
    pub(crate) write_health: WriteHealth,
    pub(crate) backup_status: BackupStatus,
}

impl Store {
    /// Connects to `sqlite:PATH` (made where it is not there; `sqlite::memory:` is not taken) or to
    /// `postgres://…`.
    ///
    /// # Errors
    /// [`StoreError::Database`] where it cannot be reached or does not do what is asked of it,
    /// [`StoreError::Newer`] where a later version of Capful made it.
    pub async fn open(url: &str) -> Result<Self, StoreError> {
        Self::on(connection::open(url).await?).await
    }

    /// Connects to a database that is there, to read: nothing that is asked of it changes it, makes
    /// tables or makes a file.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub async fn open_to_read(url: &str) -> Result<Self, StoreError> {
        Self::on(connection::open_to_read(url).await?).await
    }

    async fn on(
        (mut writer, mut readers): (DatabaseConnection, DatabaseConnection),
    ) -> Result<Self, StoreError> {
        let statements = Arc::new(AtomicU64::new(0));
        for connection in [&mut writer, &mut readers] {
            let counted = Arc::clone(&statements);
            connection.set_metric_callback(move |_| {
                counted.fetch_add(1, Relaxed);
            });
        }
        let ids = Mutex::new(ContextV7::new());
        let together = Groups::default();
        let running = Mutex::default();
        let (write_health, backup_status) = (WriteHealth::default(), BackupStatus::default());
        let store = Self {
            writer,
            readers,
            together,
            ids,
            running,
            statements,
            write_health,
            backup_status,
        };
        store.pending().await?;
        Ok(store)
    }

    /// How many steps are still to be made.
    ///
    /// # Errors
    /// [`StoreError::Newer`] where steps were made that this version does not know.
    pub async fn pending(&self) -> Result<usize, StoreError> {
        Ok(pending_steps::pending(&self.readers).await?.len())
    }

    /// Whether the database answers whoever reads. The one that SQLite writes by is not asked: it
    /// has work to do for as long as an import takes.
    ///
    /// # Errors
    /// [`StoreError::Database`] where it does not.
    pub async fn ping(&self) -> Result<(), StoreError> {
        self.readers.ping().await.map_err(failed)
    }

    /// Closes the connections, once what is in flight has ended.
    pub async fn close(self) {
        // What fails to close is closed by its end.
        let _ = self.readers.close().await;
        let _ = self.writer.close().await;
    }

    /// A new id for a row, made of nothing that the shop knows.
    #[must_use]
    pub fn new_id(&self, now: DateTime<Utc>) -> Option<Id> {
        Id::parse(&self.new_uuid(now).to_string()).ok()
    }

    /// A new identifier of the service, later than all that this store made before it.
    #[must_use]
    pub fn new_uuid(&self, now: DateTime<Utc>) -> Uuid {
        let seconds = u64::try_from(now.timestamp()).unwrap_or_default();
        let at = Timestamp::from_unix(&self.ids, seconds, now.timestamp_subsec_nanos());
        Uuid::new_v7(at)
    }

    /// Begins to change a shop. What is not committed is taken back.
    ///
    /// Whoever changes a shop waits for who did before: what is read from here on is what they
    /// left. SQLite has one writer; for PostgreSQL that is a lock of its own, which is held before
    /// the first row is read.
    pub(crate) async fn begin(&self, shop: Uuid) -> Result<DatabaseTransaction, sea_orm::DbErr> {
        if self.write_health.has_failed() {
            self.leave_writer(&"the last write failed").await;
        }
        let sqlite_transaction_mode = Some(SqliteTransactionMode::Immediate);
        let options = TransactionOptions { sqlite_transaction_mode, ..Default::default() };
        let tx = match self.writer.begin_with_options(options).await {
            Ok(tx) => tx,
            Err(error) => {
                if !error::is_busy(&error) {
                    self.leave_writer(&error).await;
                }
                return Err(error);
            }
        };
        wait_for(&tx, shop).await?;
        Ok(tx)
    }

    /// Closes the connection that SQLite writes by, where nobody writes by it: another one takes
    /// its place. What it has open may be of a disk as that was while it failed, such as a log that
    /// takes no writes.
    async fn leave_writer(&self, why: &(dyn std::fmt::Display + Sync)) {
        if self.writer.get_database_backend() != DbBackend::Sqlite {
            return;
        }
        let writer = self.writer.get_sqlite_connection_pool();
        if let Some(connection) = writer.try_acquire() {
            tracing::warn!(%why, "the connection that is written by is closed");
            // However it ends, it is out of use.
            let _ = connection.close().await;
        }
    }

    /// How scheduled copies fare.
    #[must_use]
    pub const fn backups(&self) -> &BackupStatus {
        &self.backup_status
    }
}
