//! Connections: how each of the two databases is spoken to.

use std::str::FromStr;
use std::time::Duration;

use sea_orm::sqlx::postgres::{PgConnectOptions, PgConnection, PgPoolOptions};
use sea_orm::sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous,
};
use sea_orm::sqlx::{self, ConnectOptions as _, Connection as _};
use sea_orm::{DatabaseConnection, DbBackend, SqlxPostgresConnector, SqlxSqliteConnector};

use crate::db::disk;
use crate::db::error::StoreError;

/// Statements that a connection keeps prepared.
const PREPARED: usize = 500;
/// Rows that SQLite's thread hands over before it waits for them to be taken.
const ROWS: usize = 4096;
/// Readers beside SQLite's one writer.
const READERS: u32 = 4;
/// Connections to PostgreSQL.
const POOL: u32 = 12;
/// What is left of SQLite's write-ahead log once all of it is in the file, in bytes: it is cut to
/// this, however long a reader kept it growing.
const WAL_LEFT: u64 = 16 * 1024 * 1024;
/// How long a writer waits for another.
const PATIENCE: Duration = Duration::from_secs(10);
/// How long a connection to PostgreSQL may have been idle and is still taken to be alive.
const IDLE: Duration = Duration::from_secs(5);

/// A connection to write by, and one to read by.
pub(crate) async fn open(
    url: &str,
) -> Result<(DatabaseConnection, DatabaseConnection), StoreError> {
    let scheme = url.split(':').next().unwrap_or_default();
    match scheme {
        "sqlite" => open_sqlite(url).await.map_err(failed),
        "postgres" | "postgresql" => {
            let pool = open_postgres(url).await.map_err(failed)?;
            Ok((pool.clone(), pool))
        }
        _ => {
            let text = "a database is sqlite:PATH or postgres://USER@HOST/NAME";
            Err(StoreError::Refused(text.to_owned()))
        }
    }
}

pub(crate) fn failed(error: sqlx::Error) -> StoreError {
    StoreError::Database(error.to_string())
}

/// A connection that reads a database which is there, and changes nothing, twice.
pub(crate) async fn open_to_read(
    url: &str,
) -> Result<(DatabaseConnection, DatabaseConnection), StoreError> {
    if !url.starts_with("sqlite:") {
        let joint = if url.contains('?') { '&' } else { '?' };
        return open(&format!("{url}{joint}options[default_transaction_read_only]=on")).await;
    }
    let options = SqliteConnectOptions::from_str(url).map_err(failed)?.create_if_missing(false);
    let options = options.foreign_keys(true).busy_timeout(PATIENCE).row_buffer_size(ROWS);
    let options = options.disable_statement_logging().pragma("query_only", "ON");
    let pool = SqlitePoolOptions::new().max_connections(READERS).connect_with(options).await;
    let readers = SqlxSqliteConnector::from_sqlx_sqlite_pool(pool.map_err(failed)?);
    Ok((readers.clone(), readers))
}

/// Makes an SQLite file that is not there yet, for its owner alone, as SQLite then makes what it
/// keeps beside it; says of one that others may read that they may.
fn keep_private(options: &SqliteConnectOptions) -> Result<(), sqlx::Error> {
    let file = options.get_filename();
    // What is in memory has a name like this, and no file.
    if file.to_string_lossy().starts_with("file:") {
        return Ok(());
    }
    disk::make_private(file).map_err(sqlx::Error::Io)?;
    if let Some(rights) = disk::wide_rights(file) {
        tracing::warn!(
            file = %file.display(),
            rights = %format!("{rights:03o}"),
            "others on this machine may read the database: `chmod 600` keeps it private"
        );
    }
    Ok(())
}

async fn open_sqlite(url: &str) -> Result<(DatabaseConnection, DatabaseConnection), sqlx::Error> {
    let options = SqliteConnectOptions::from_str(url)?
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(PATIENCE)
        .pragma("journal_size_limit", WAL_LEFT.to_string())
        .statement_cache_capacity(PREPARED)
        .row_buffer_size(ROWS)
        .disable_statement_logging();
    keep_private(&options)?;
    let for_ever = || {
        let pool = SqlitePoolOptions::new().idle_timeout(None).max_lifetime(None);
        pool.test_before_acquire(false)
            .acquire_timeout(PATIENCE * 3)
            .before_acquire(|connection, _| Box::pin(async move { Ok(ended_as_asked(connection)) }))
    };
    let writer = for_ever()
        .max_connections(1)
        .after_connect(|connection, _| Box::pin(async move { hold_to_it(connection).await }));
    let writer = writer.connect_with(options.clone()).await?;
    let readers = for_ever().max_connections(READERS).min_connections(1);
    let readers = readers.connect_with(options.pragma("query_only", "ON")).await?;
    let connector = SqlxSqliteConnector::from_sqlx_sqlite_pool;
    Ok((connector(writer), connector(readers)))
}

/// Whether the last transaction of a connection ended as it was asked to; one where it did not is
/// closed, and another takes its place.
///
/// A transaction that SQLite gave up by itself, as it does where the disk is full, cannot be rolled
/// back once more: the driver goes on counting it. What would begin next would be a savepoint
/// within nothing, and its release would be taken for a commit that never reaches the disk.
fn ended_as_asked(connection: &SqliteConnection) -> bool {
    let has_ended = !connection.is_in_transaction();
    if !has_ended {
        tracing::warn!("a transaction did not end as asked: its connection is closed");
    }
    has_ended
}

/// Asks SQLite whether it took what it was told.
async fn hold_to_it(writer: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    let one = &mut *writer;
    let journal: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(one).await?;
    let one = &mut *writer;
    let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous").fetch_one(one).await?;
    let one = &mut *writer;
    let keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(one).await?;
    let busy: i64 = sqlx::query_scalar("PRAGMA busy_timeout").fetch_one(writer).await?;
    if journal == "wal" && synchronous == 2 && keys == 1 && busy > 0 {
        return Ok(());
    }
    let text = format!(
        "SQLite runs with journal_mode={journal}, synchronous={synchronous}, \
         foreign_keys={keys}, busy_timeout={busy}: a file on a local disk takes WAL and FULL"
    );
    Err(sqlx::Error::Configuration(text.into()))
}

async fn open_postgres(url: &str) -> Result<DatabaseConnection, sqlx::Error> {
    let milliseconds = |time: Duration| format!("{}ms", time.as_millis());
    let options = PgConnectOptions::from_str(url)?
        .options([
            ("lock_timeout", milliseconds(PATIENCE)),
            ("idle_in_transaction_session_timeout", milliseconds(PATIENCE * 3)),
        ])
        .statement_cache_capacity(PREPARED)
        .application_name("capful")
        .disable_statement_logging();
    let pool = PgPoolOptions::new()
        .max_connections(POOL)
        .acquire_timeout(PATIENCE * 2)
        .test_before_acquire(false)
        .before_acquire(|connection, meta| {
            Box::pin(async move { Ok(meta.idle_for < IDLE || connection.ping().await.is_ok()) })
        })
        .connect_with(options)
        .await?;
    Ok(SqlxPostgresConnector::from_sqlx_postgres_pool(pool))
}

/// A connection that holds PostgreSQL's lock on the making of tables.
pub(crate) struct Making(PgConnection);

impl Making {
    /// Waits until nobody else makes the tables of this schema; nothing on SQLite, which has no
    /// such lock. The connection is taken out of the pool: however it ends, the lock ends with it.
    pub(crate) async fn alone(writer: &DatabaseConnection) -> Result<Option<Self>, sqlx::Error> {
        if writer.get_database_backend() != DbBackend::Postgres {
            return Ok(None);
        }
        let mut own = writer.get_postgres_connection_pool().acquire().await?.detach();
        sqlx::raw_sql("SET lock_timeout = '10min'").execute(&mut own).await?;
        let lock = "SELECT pg_advisory_lock(hashtext('capful ' || current_schema()))";
        sqlx::raw_sql(lock).execute(&mut own).await?;
        Ok(Some(Self(own)))
    }

    /// Lets the next one.
    pub(crate) async fn end(self) {
        // The lock ends with the connection, whether its end is said or not.
        let _ = self.0.close().await;
    }
}
