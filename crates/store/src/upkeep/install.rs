//! Putting a whole SQLite database in the place of another, or of none, with no service looking on.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::{DateTime, Utc};
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sea_orm::sqlx::{self, ConnectOptions as _, Connection as _};
use tempfile::TempPath;

use crate::db::connection::failed;
use crate::db::disk::{self, file_error};
use crate::db::error::StoreError;
use crate::db::schema;
use crate::db::sqlite_file;

/// How long another may keep a database before it is said to be in use.
const PATIENCE: Duration = Duration::from_secs(1);

/// What every SQLite database begins with.
const HEAD: &[u8] = b"SQLite format 3\0";

/// What may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Replace {
    /// A database without rows.
    Empty,
    /// Any; what was there is kept beside under a name with the time.
    Any,
}

/// What stands in the place.
enum Standing {
    /// No row.
    Empty,
    /// Rows of a table.
    Filled(String),
    /// No database that can be read, and why.
    Unreadable(String),
}

/// Puts a whole file in the place of a database, with a lock held on what stands there; gives where
/// that is kept, where it was worth keeping.
pub(crate) async fn install(
    part: TempPath,
    target: &Path,
    replace: Replace,
    now: DateTime<Utc>,
) -> Result<Option<PathBuf>, StoreError> {
    if !target.exists() {
        if let Some(left) = sqlite_file::left_beside(target).first() {
            let text = format!(
                "{} was left by another database, and would spoil this one: move it away first",
                left.display()
            );
            return Err(StoreError::Refused(text));
        }
        disk::put(part, target, false)?;
        return Ok(None);
    }
    let standing = look(target).await?;
    let _held = lock_file(target)?;
    let kept = match (standing, replace) {
        (Standing::Empty, _) => {
            hold_one_file(target)?;
            None
        }
        (Standing::Filled(table), Replace::Empty) => return Err(filled(target, &table)),
        (Standing::Unreadable(why), Replace::Empty) => {
            let text = format!("{} cannot be read: {why}", target.display());
            return Err(StoreError::Refused(text));
        }
        (Standing::Filled(_), Replace::Any) => {
            hold_one_file(target)?;
            Some(keep(target, now)?)
        }
        (Standing::Unreadable(_), Replace::Any) => {
            let kept = keep(target, now)?;
            for (left, ending) in sqlite_file::left_beside_by_ending(target) {
                let aside = disk::beside(&kept, ending);
                fs::rename(&left, aside).map_err(|error| file_error(&left, &error))?;
            }
            Some(kept)
        }
    };
    disk::put(part, target, true)?;
    Ok(kept)
}

fn filled(target: &Path, table: &str) -> StoreError {
    let text = format!(
        "{} is not empty (there are rows in its table `{table}`), so nothing was written: name \
         another database, or replace it with --force, which keeps the old one beside",
        target.display()
    );
    StoreError::Refused(text)
}

/// Keeps what stands in the place under a name with the time. The name that it had is still there
/// until something else takes it: there is always a database of that name.
fn keep(target: &Path, now: DateTime<Utc>) -> Result<PathBuf, StoreError> {
    let kept = disk::beside(target, &now.format(".before-restore-%Y%m%dT%H%M%SZ").to_string());
    let failed = |error: std::io::Error| file_error(&kept, &error);
    fs::hard_link(target, &kept).map_err(failed)?;
    disk::keep_private(&kept).map_err(failed)?;
    disk::sync_directory(&kept).map_err(failed)?;
    Ok(kept)
}

/// Looks whether anything stands in a database, and leaves all of it in its one file.
async fn look(target: &Path) -> Result<Standing, StoreError> {
    if !has_head(target).map_err(|error| file_error(target, &error))? {
        return Ok(Standing::Unreadable("it is no SQLite database".to_owned()));
    }
    let options = SqliteConnectOptions::new().filename(target).foreign_keys(false);
    let options = options.disable_statement_logging().busy_timeout(PATIENCE);
    let mut own = options.connect().await.map_err(failed)?;
    let found = first_filled(&mut own).await;
    // The last to close a database leaves one file. What fails to close is closed by its end.
    let _ = own.close().await;
    match found {
        Ok(None) => Ok(Standing::Empty),
        Ok(Some(table)) => Ok(Standing::Filled(table)),
        Err(error) if is_busy(&error) => Err(in_use(target)),
        Err(error) => Ok(Standing::Unreadable(error.to_string())),
    }
}

/// Whether a file begins like a database; an empty one is one. SQLite is not asked: it tidies up
/// beside what it cannot read.
fn has_head(target: &Path) -> io::Result<bool> {
    let mut head = Vec::new();
    File::open(target)?.take(HEAD.len() as u64).read_to_end(&mut head)?;
    Ok(head.is_empty() || head == HEAD)
}

/// A table that has rows, with everybody else kept out: a service holds its database in such a way
/// that this fails.
async fn first_filled(own: &mut SqliteConnection) -> Result<Option<String>, sqlx::Error> {
    const TABLES: &str = "SELECT name FROM sqlite_master WHERE type = 'table' \
         AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' AND name NOT LIKE 'seaql\\_%' ESCAPE '\\'";
    sqlx::query("PRAGMA locking_mode = EXCLUSIVE").execute(&mut *own).await?;
    sqlx::query("BEGIN EXCLUSIVE").execute(&mut *own).await?;
    let tables: Vec<String> = sqlx::query_scalar(TABLES).fetch_all(&mut *own).await?;
    let mut found = None;
    for table in tables {
        let some = format!("SELECT EXISTS (SELECT 1 FROM {})", schema::quoted(&table));
        let some = sqlx::query_scalar(sqlx::AssertSqlSafe(some)).fetch_one(&mut *own).await?;
        if some {
            found = Some(table);
            break;
        }
    }
    sqlx::query("ROLLBACK").execute(&mut *own).await?;
    Ok(found)
}

/// Sees to it that all of a database is in its file: nobody else has it open.
fn hold_one_file(target: &Path) -> Result<(), StoreError> {
    for (left, ending) in sqlite_file::left_beside_by_ending(target) {
        // What programs share says nothing once it is shared with nobody.
        if ending != "-shm" {
            let text = format!("{} cannot be taken into its database", left.display());
            return Err(StoreError::Refused(text));
        }
        fs::remove_file(&left).map_err(|error| file_error(&left, &error))?;
    }
    Ok(())
}

fn in_use(target: &Path) -> StoreError {
    let text = format!(
        "another program has {} open, so nothing was written: stop the service first",
        target.display()
    );
    StoreError::Refused(text)
}

/// Whether others are in the way: SQLite's busy and locked, in their several kinds.
fn is_busy(error: &sqlx::Error) -> bool {
    let sqlx::Error::Database(error) = error else { return false };
    let code = error.code().and_then(|code| code.parse::<i32>().ok()).unwrap_or_default();
    [5, 6].contains(&(code & 0xff))
}

/// Locks a file as SQLite would, for as long as it is held: whoever has it open is in the way.
fn lock_file(target: &Path) -> Result<File, StoreError> {
    let file = File::options().read(true).write(true).open(target);
    let file = file.map_err(|error| file_error(target, &error))?;
    #[cfg(unix)]
    {
        let alone = rustix::fs::FlockOperation::NonBlockingLockExclusive;
        rustix::fs::fcntl_lock(&file, alone).map_err(|_| in_use(target))?;
    }
    Ok(file)
}
