//! Whether the database takes writes: a commit that reached the disk, and not only an open
//! connection.

use chrono::{DateTime, Utc};
use sea_orm::{ConnectionTrait, DbBackend, DbErr};
use uuid::Uuid;

use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::store::Store;

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
