//! SQLite files that no service works on: copies, which are read without being changed, and files
//! on their way to become a database.

use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::Duration;

use sea_orm::sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous,
};
use sea_orm::sqlx::{self, Connection as _};
use sea_orm::{DatabaseConnection, SqlxSqliteConnector};

use crate::db::connection::failed;
use crate::db::disk;
use crate::db::error::StoreError;

/// What SQLite keeps beside a file that is in use.
const BESIDE: [&str; 3] = ["-wal", "-shm", "-journal"];

/// How long another may keep what is asked for.
const PATIENCE: Duration = Duration::from_secs(10);

/// The file of `sqlite:PATH`.
pub(crate) fn path_of(url: &str) -> Result<PathBuf, StoreError> {
    let options = SqliteConnectOptions::from_str(url).map_err(failed)?;
    Ok(options.get_filename().to_owned())
}

/// What SQLite left beside a file.
pub(crate) fn left_beside(file: &Path) -> Vec<PathBuf> {
    left_beside_by_ending(file).into_iter().map(|(path, _)| path).collect()
}

/// The same, each with what stands behind the file's name in its own.
pub(crate) fn left_beside_by_ending(file: &Path) -> Vec<(PathBuf, &'static str)> {
    let beside = BESIDE.iter().map(|ending| (disk::beside(file, ending), *ending));
    beside.filter(|(path, _)| path.exists()).collect()
}

async fn one(options: SqliteConnectOptions) -> Result<DatabaseConnection, StoreError> {
    let pool = SqlitePoolOptions::new().max_connections(1).idle_timeout(None).max_lifetime(None);
    let pool = pool.connect_with(options).await.map_err(failed)?;
    Ok(SqlxSqliteConnector::from_sqlx_sqlite_pool(pool))
}

/// Opens a file that nobody writes: it is not changed, and nothing is made beside it.
pub(crate) async fn open_copy(file: &Path) -> Result<DatabaseConnection, StoreError> {
    let options = SqliteConnectOptions::new().filename(file).read_only(true).immutable(true);
    one(options).await
}

/// Opens a file that nobody else knows yet. It is synced when it is put in place: not before, and
/// what is half written is thrown away with it.
pub(crate) async fn open_part(file: &Path) -> Result<DatabaseConnection, StoreError> {
    let options = SqliteConnectOptions::new().filename(file).foreign_keys(true);
    let options = options.journal_mode(SqliteJournalMode::Memory);
    one(options.synchronous(SqliteSynchronous::Off)).await
}

/// Copies a database that others may write to meanwhile, as it stands at one moment, into an empty
/// file.
pub(crate) async fn copy_online(from: &Path, part: &Path) -> Result<(), StoreError> {
    let text = |path: &Path| match path.to_str() {
        Some(text) => Ok(text.to_owned()),
        None => Err(StoreError::Refused(format!("{}: a name in UTF-8 is needed", path.display()))),
    };
    let options = SqliteConnectOptions::new().filename(text(from)?).busy_timeout(PATIENCE);
    let mut own = SqliteConnection::connect_with(&options).await.map_err(failed)?;
    let copied = sqlx::query("VACUUM INTO ?").bind(text(part)?).execute(&mut own).await;
    // What fails to close is closed by its end.
    let _ = own.close().await;
    copied.map(|_| ()).map_err(|error| {
        for left in left_beside(part) {
            // What cannot be taken away is taken away a day later.
            let _ = std::fs::remove_file(left);
        }
        StoreError::Database(format!("the copy could not be written: {error}"))
    })
}
