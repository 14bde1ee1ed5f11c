//! Whether the database takes writes: a commit that reached the disk, and not only an open
//! connection.

use std::sync::atomic::{AtomicBool, AtomicI64, Ordering::SeqCst};

use chrono::{DateTime, TimeDelta, Utc};
use sea_orm::{ConnectionTrait, DbBackend, DbErr};
use uuid::Uuid;

use crate::error::StoreError;
use crate::store::{Store, failed};

/// A commit proves for so long that the next one can be made.
const PROVEN: TimeDelta = TimeDelta::seconds(5);

/// When a write was last proven, and whether one failed since.
#[derive(Debug)]
pub(crate) struct WriteHealth {
    proven_at_us: AtomicI64,
    has_failed: AtomicBool,
    proving: tokio::sync::Mutex<()>,
}

impl Default for WriteHealth {
    fn default() -> Self {
        Self {
            proven_at_us: AtomicI64::new(i64::MIN),
            has_failed: AtomicBool::new(false),
            proving: tokio::sync::Mutex::default(),
        }
    }
}

impl WriteHealth {
    /// Notes a commit.
    pub(crate) fn proven(&self, now: DateTime<Utc>) {
        self.proven_at_us.fetch_max(now.timestamp_micros(), SeqCst);
        self.has_failed.store(false, SeqCst);
    }

    /// Notes a write that the database did not take.
    pub(crate) fn failed(&self) {
        self.has_failed.store(true, SeqCst);
    }

    /// Whether the last write was not taken.
    pub(crate) fn has_failed(&self) -> bool {
        self.has_failed.load(SeqCst)
    }

    fn is_proven(&self, now: DateTime<Utc>) -> bool {
        let fresh = now.timestamp_micros().checked_sub(self.proven_at_us.load(SeqCst));
        let fresh = fresh.is_some_and(|age| TimeDelta::microseconds(age).abs() < PROVEN);
        fresh && !self.has_failed.load(SeqCst)
    }
}

impl Store {
    /// Whether the database takes writes: something was committed within the last seconds, somebody
    /// is writing now and nobody was refused, or else a write of nothing is committed here.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`] or another where the write fails.
    pub async fn prove_write(&self, now: DateTime<Utc>) -> Result<(), StoreError> {
        let health = &self.write_health;
        // Whoever comes while one proves it takes over what that one found.
        let _one_at_a_time = health.proving.lock().await;
        if health.is_proven(now) || (self.is_writing() && !health.has_failed()) {
            return Ok(());
        }
        match self.write_nothing().await {
            Ok(()) => {
                health.proven(now);
                Ok(())
            }
            Err(error) => {
                health.failed();
                Err(failed(error))
            }
        }
    }

    /// Commits a change of nothing, which goes through the write-ahead log to the disk as any other
    /// does.
    async fn write_nothing(&self) -> Result<(), DbErr> {
        let tx = self.begin(Uuid::nil()).await?;
        let write = match tx.get_database_backend() {
            // Setting a number in the file's head to what it is writes that page.
            DbBackend::Sqlite => "PRAGMA user_version = 1",
            _ => "SELECT pg_logical_emit_message(true, 'capful', 'ready')",
        };
        tx.execute_unprepared(write).await?;
        tx.commit().await
    }

    /// Whether SQLite's one writer has work to do, which may take as long as an import does.
    fn is_writing(&self) -> bool {
        if self.writer.get_database_backend() != DbBackend::Sqlite {
            return false;
        }
        let pool = self.writer.get_sqlite_connection_pool();
        pool.size() > 0 && pool.num_idle() == 0
    }
}
