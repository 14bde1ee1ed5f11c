//! The store itself: its connections, and the one way that everything is changed.

use std::collections::HashSet;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use capful_domain::Id;
use capful_migrations::Migrator;
use chrono::{DateTime, Utc};
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, SqliteTransactionMode,
    Statement, TransactionOptions, TransactionTrait, Value,
};
use sea_orm_migration::MigratorTrait;
use uuid::{ContextV7, Timestamp, Uuid};

use crate::asked::{Answer, Asked, Done};
use crate::backup_status::BackupStatus;
use crate::boxed::Boxed;
use crate::change::{Change, Outcome};
use crate::connection::{self, Making};
use crate::deeds;
use crate::error::{self, Failure, StoreError};
use crate::idempotency;
use crate::moments;
use crate::readiness::WriteHealth;
use crate::shops::wait_for;
use crate::sql;
use crate::steps::{self, Migrated};
use crate::together::Groups;

/// How often a change is tried where others are faster.
const TRIES: u32 = 20;

/// How often a change is tried again where a row that it does not see is in its way.
const TAKEN_TRIES: u32 = 3;

/// How often making the tables is tried: for some three seconds.
const MAKING_TRIES: u64 = 16;

/// Makes the answer that is kept for what was done.
type Answering<'a> = &'a (dyn Fn(&Outcome) -> Answer + Send + Sync);

/// A database with any number of shops.
#[derive(Debug)]
pub struct Store {
    pub(crate) writer: DatabaseConnection,
    pub(crate) readers: DatabaseConnection,
    together: Groups,
    ids: Mutex<ContextV7>,
    running: Mutex<HashSet<(Uuid, String)>>,
    pub(crate) statements: Arc<AtomicU64>,
    pub(crate) write_health: WriteHealth,
    pub(crate) backup_status: BackupStatus,
}

/// What a transaction works with.
pub(crate) struct Work<'s> {
    pub store: &'s Store,
    pub tx: DatabaseTransaction,
    pub shop: Uuid,
    pub now: DateTime<Utc>,
    pub if_match: Option<i64>,
    /// Whether a shop that it makes is to be the only one.
    pub is_first: bool,
    /// Whether it was tried before: then what is in the way is looked for and told.
    pub is_careful: bool,
    later: Mutex<Option<Vec<Statement>>>,
}

impl Work<'_> {
    /// A new id, later than all before it.
    pub(crate) fn new_id(&self) -> Uuid {
        self.store.new_uuid(self.now)
    }

    /// From here on nothing is read that is written: what is written is gathered until its end.
    pub(crate) fn gather(&self) {
        self.later.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert_default();
    }

    /// Writes, now or with what is gathered.
    pub(crate) async fn write(&self, statement: Statement) -> Result<(), Failure> {
        let now = match &mut *self.later.lock().unwrap_or_else(PoisonError::into_inner) {
            Some(later) => {
                later.push(statement);
                return Ok(());
            }
            None => statement,
        };
        self.tx.execute_raw(now).await?;
        Ok(())
    }

    /// Does one thing, and writes down who did it and what was answered.
    async fn all_of(
        &self,
        asked: &Asked,
        change: &Change,
        answer: Answering<'_>,
    ) -> Result<Done<Outcome>, Failure> {
        let mut outcome = self.apply(change).await?;
        self.gather();
        self.stamp(change).await?;
        outcome.deed = deeds::keep(self, asked.by, change, &outcome).await?;
        let answer = answer(&outcome);
        if let Some(once) = &asked.once {
            idempotency::keep(self, once, &answer).await?;
        }
        self.put_gathered().await?;
        Ok(Done::Now(outcome, answer))
    }

    /// Writes what was gathered, all at once: for SQLite as one text of several statements, for
    /// PostgreSQL as one statement with the others within it. None reads what another writes.
    pub(crate) async fn put_gathered(&self) -> Result<(), Failure> {
        let later = self.later.lock().unwrap_or_else(PoisonError::into_inner).take();
        let later = later.unwrap_or_default();
        if later.is_empty() {
            return Ok(());
        }
        let backend = self.tx.get_database_backend();
        let text = match backend {
            DbBackend::Postgres => sql::within_one(&later),
            _ => later.iter().map(|one| one.sql.as_str()).collect::<Vec<_>>().join("; "),
        };
        let values = later.into_iter().filter_map(|statement| statement.values);
        let values: Vec<Value> = values.flat_map(|values| values.0).collect();
        self.tx.execute_raw(Statement::from_sql_and_values(backend, text, values)).await?;
        Ok(())
    }
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

    /// How many steps are still to be made.
    ///
    /// # Errors
    /// [`StoreError::Newer`] where steps were made that this version does not know.
    pub async fn pending(&self) -> Result<usize, StoreError> {
        Ok(steps::pending(&self.readers).await?.len())
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

    /// Does one thing to a shop, whole or not at all, and keeps `answer`, which is given again to
    /// the same request.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub async fn change(
        &self,
        asked: &Asked,
        change: &Change,
        answer: impl Fn(&Outcome) -> Answer + Send + Sync,
    ) -> Result<Done<Outcome>, StoreError> {
        self.change_boxed(asked, change, &answer).await
    }

    /// The whole way of a change, whatever makes the answer.
    fn change_boxed<'a>(
        &'a self,
        asked: &'a Asked,
        change: &'a Change,
        answer: Answering<'a>,
    ) -> Boxed<'a, Result<Done<Outcome>, StoreError>> {
        Box::pin(async move {
            let _running = self.run(asked)?;
            let change = &moments::cut_change(change);
            let mut last = String::new();
            for attempt in 0..TRIES {
                if attempt > 0 {
                    tokio::time::sleep(Duration::from_millis(attempt.into())).await;
                }
                let failure = match self.try_change(asked, change, answer, attempt > 0).await {
                    Ok(done) => {
                        self.write_health.proven(asked.now);
                        return Ok(done);
                    }
                    Err(failure) => failure,
                };
                if let Failure::Final(StoreError::Unavailable(_)) = &failure {
                    self.write_health.failed();
                }
                // Most requests come once: whether this one came before is asked when it fails, as
                // it does if it was done already.
                if let Some(before) = idempotency::answer_before(self, asked).await? {
                    return Ok(Done::Before(before));
                }
                match failure {
                    Failure::Final(error) => return Err(error),
                    Failure::Taken(text) if attempt >= TAKEN_TRIES => {
                        return Err(StoreError::Database(text));
                    }
                    Failure::Again(text) | Failure::Taken(text) => last = text,
                }
            }
            Err(StoreError::Busy(format!("tried {TRIES} times: {last}")))
        })
    }

    /// The same, where nobody waits for an answer that could be given again.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub async fn change_plainly(
        &self,
        asked: &Asked,
        change: &Change,
    ) -> Result<Outcome, StoreError> {
        let nothing = |_: &Outcome| Answer { status: 200, body: String::new() };
        let done = self.change(asked, change, nothing).await?;
        Ok(done.now().unwrap_or_default())
    }

    async fn try_change(
        &self,
        asked: &Asked,
        change: &Change,
        answer: Answering<'_>,
        is_careful: bool,
    ) -> Result<Done<Outcome>, Failure> {
        let together = self.together.of(self.writer.get_database_backend(), asked.shop);
        let (turn, tx) = together.turn(self, asked.shop).await?;
        let work = Work {
            store: self,
            tx,
            shop: asked.shop,
            now: moments::kept(asked.now),
            if_match: asked.if_match,
            is_first: asked.is_first,
            is_careful,
            later: Mutex::default(),
        };
        match work.all_of(asked, change, answer).await {
            Ok(done) => {
                turn.end(work.tx, is_careful).await?;
                Ok(done)
            }
            Err(failure) => {
                turn.give_back(work.tx).await;
                Err(failure)
            }
        }
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

    /// Notes that a request runs, until what is given back is dropped.
    fn run(&self, asked: &Asked) -> Result<Option<Running<'_>>, StoreError> {
        let Some(once) = &asked.once else { return Ok(None) };
        let key = (asked.shop, once.key.clone());
        let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        if !running.insert(key.clone()) {
            return Err(StoreError::StillRunning);
        }
        Ok(Some(Running { store: self, key }))
    }
}

/// A request that runs in this process.
struct Running<'s> {
    store: &'s Store,
    key: (Uuid, String),
}

impl Drop for Running<'_> {
    fn drop(&mut self) {
        let mut running = self.store.running.lock().unwrap_or_else(PoisonError::into_inner);
        running.remove(&self.key);
    }
}

/// What failed, for the log.
pub(crate) fn failed(error: sea_orm::DbErr) -> StoreError {
    Failure::from(error).into()
}
