//! What keeps the store from doing what it was asked.
//!
//! Everything but [`StoreError::Database`], [`StoreError::Busy`] and [`StoreError::Unavailable`] is
//! for whoever asked, and says what would be right. What these say is for the log: their texts are
//! no answer.

use std::borrow::Cow;

use capful_folder::Problem;
use sea_orm::DbErr;

use crate::rows::Unreadable;

/// What keeps the store from doing what it was asked. Nothing was changed then.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// There is no such row.
    #[error("there is no {what} `{id}`")]
    NotFound {
        /// The kind of row.
        what: &'static str,
        /// What it was sought by.
        id: String,
    },
    /// A row of that id is there already.
    #[error("{what} `{id}` is there already: a new one needs an id of its own")]
    Conflict {
        /// The kind of row.
        what: &'static str,
        /// Its id.
        id: String,
    },
    /// The row was written since it was read.
    #[error("{}", stale(what, id, *version))]
    Stale {
        /// The kind of row.
        what: &'static str,
        /// What it is known by.
        id: String,
        /// Its version now; 0 where there is none yet.
        version: i64,
    },
    /// The key was used for another request.
    #[error("this idempotency key was used for another request: a new request needs a new key")]
    SameKeyOtherBody,
    /// A request of the same key has not been answered yet.
    #[error("a request with this idempotency key is still running: ask again in a moment")]
    StillRunning,
    /// It would go against the rules; the text says what would be right.
    #[error("{0}")]
    Refused(String),
    /// Rows of an import that cannot be taken over, each with what would be right.
    #[error("nothing was taken over: the rows in the way are named")]
    Problems(Vec<Problem>),
    /// The database was made by a later Capful.
    #[error("the database was made by a later version of Capful: {0}")]
    Newer(String),
    /// Others kept the database busy for longer than the store waits: the same again may do later.
    #[error("the database is busy: {0}")]
    Busy(String),
    /// The database cannot be reached, or its disk takes no writes: the same again will do once
    /// that has passed.
    #[error("the database is unavailable: {0}")]
    Unavailable(String),
    /// The database failed, or cannot be understood.
    #[error("the database failed: {0}")]
    Database(String),
}

impl From<Unreadable> for StoreError {
    fn from(unreadable: Unreadable) -> Self {
        Self::Database(unreadable.to_string())
    }
}

impl StoreError {
    /// Where the database says that a row is there already, or that what it names is not.
    fn of_constraint(error: &DbErr) -> Option<Self> {
        use sea_orm::SqlErr;
        match error.sql_err()? {
            SqlErr::ForeignKeyConstraintViolation(_) => {
                let text = "what a row names must be there before it: set that up first";
                Some(Self::Refused(text.to_owned()))
            }
            _ => None,
        }
    }
}

/// A failure inside a transaction: whether it can be tried again as it was.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Somebody else was faster; the same again may do.
    Again(String),
    /// A row is there that was not seen. Where somebody else was faster it is seen when it is tried
    /// again; where it is not, trying does not help.
    Taken(String),
    /// It is as it is.
    Final(StoreError),
}

impl From<DbErr> for Failure {
    fn from(error: DbErr) -> Self {
        if is_taken(&error) {
            return Self::Taken(error.to_string());
        }
        if is_passing(&error) {
            return Self::Again(error.to_string());
        }
        if is_busy(&error) {
            return Self::Final(StoreError::Busy(error.to_string()));
        }
        if is_unavailable(&error) {
            return Self::Final(StoreError::Unavailable(error.to_string()));
        }
        let told = StoreError::of_constraint(&error);
        Self::Final(told.unwrap_or_else(|| StoreError::Database(error.to_string())))
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        Self::Final(error)
    }
}

impl From<Unreadable> for Failure {
    fn from(unreadable: Unreadable) -> Self {
        Self::Final(unreadable.into())
    }
}

impl From<Failure> for StoreError {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::Again(text) => Self::Busy(text),
            Failure::Taken(text) => Self::Database(text),
            Failure::Final(error) => error,
        }
    }
}

/// A row that another one is in the way of.
fn is_taken(error: &DbErr) -> bool {
    use sea_orm::SqlErr;
    matches!(error.sql_err(), Some(SqlErr::UniqueConstraintViolation(_)))
}

/// Serialization failures and deadlocks.
fn is_passing(error: &DbErr) -> bool {
    // PostgreSQL: serialization failure, deadlock. SQLite: busy with recovery, or with a snapshot
    // that is too old.
    ["40001", "40P01", "261", "517"].contains(&code(error).as_ref())
}

/// Waited for as long as the store waits: a free connection, PostgreSQL's lock, SQLite's writer.
pub(crate) fn is_busy(error: &DbErr) -> bool {
    use sea_orm::ConnAcquireErr;
    matches!(error, DbErr::ConnectionAcquire(ConnAcquireErr::Timeout))
        || ["55P03", "5"].contains(&code(error).as_ref())
}

/// Whether nothing is wrong with what was asked, but the database is away or cannot write.
fn is_unavailable(error: &DbErr) -> bool {
    use sea_orm::sqlx::Error;
    let Some(of_driver) = of_driver(error) else {
        return matches!(error, DbErr::ConnectionAcquire(_) | DbErr::Conn(_));
    };
    match of_driver {
        Error::Io(_) | Error::PoolTimedOut | Error::PoolClosed | Error::WorkerCrashed => true,
        // The last word of a connection that ended in the middle of one.
        Error::Protocol(_) | Error::Tls(_) => true,
        Error::Database(error) => is_code_of_unavailable(&error.code().unwrap_or_default()),
        _ => false,
    }
}

/// SQLite's result codes (the lowest byte of the extended ones): read-only, input or output failed,
/// malformed (as a file seems of which a part cannot be read), disk full, cannot open, not a
/// database. PostgreSQL's classes: connection, resources, shut down or recovering, system error;
/// and that it takes no writes.
fn is_code_of_unavailable(code: &str) -> bool {
    if let (Ok(number), true) = (code.parse::<u32>(), code.len() < 5) {
        return [8, 10, 11, 13, 14, 26].contains(&(number & 0xff));
    }
    let classes = ["08", "53", "57P", "58"];
    code == "25006" || classes.iter().any(|class| code.starts_with(class))
}

/// The database's own code of what failed.
fn code(error: &DbErr) -> Cow<'_, str> {
    use sea_orm::sqlx::Error;
    match of_driver(error) {
        Some(Error::Database(error)) => error.code().unwrap_or_default(),
        _ => Cow::default(),
    }
}

/// What the driver said.
fn of_driver(error: &DbErr) -> Option<&sea_orm::sqlx::Error> {
    use sea_orm::RuntimeErr;
    match error {
        DbErr::Exec(RuntimeErr::SqlxError(error))
        | DbErr::Query(RuntimeErr::SqlxError(error))
        | DbErr::Conn(RuntimeErr::SqlxError(error)) => Some(error),
        _ => None,
    }
}

fn stale(what: &str, id: &str, version: i64) -> String {
    if version == 0 {
        return format!("there is no {what} `{id}` yet: a new one is sent with `If-None-Match: *`");
    }
    format!("the {what} `{id}` is not as it was read: it is at version {version} now")
}

/// What failed, for the log.
pub(crate) fn failed(error: sea_orm::DbErr) -> StoreError {
    Failure::from(error).into()
}

/// Says what would be right.
pub(crate) fn refuse<T>(text: &str) -> Result<T, Failure> {
    Err(StoreError::Refused(text.to_owned()).into())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SQLite: "Result and Extended Result Codes"; PostgreSQL: appendix A, "Error Codes".
    #[test]
    fn what_passes_by_itself_is_told_from_what_does_not() {
        // SQLITE_FULL, SQLITE_IOERR_WRITE, SQLITE_IOERR_FSYNC, SQLITE_READONLY_DBMOVED,
        // SQLITE_CANTOPEN, SQLITE_CORRUPT, SQLITE_NOTADB; disk_full, admin_shutdown,
        // cannot_connect_now, io_error, read_only_sql_transaction.
        let of_postgres = ["53100", "57P01", "57P03", "58030", "25006"];
        for code in ["13", "778", "1034", "1032", "14", "11", "26"].into_iter().chain(of_postgres) {
            assert!(is_code_of_unavailable(code), "{code}");
        }
        // SQLITE_ERROR, SQLITE_CONSTRAINT_UNIQUE; undefined_table, unique_violation,
        // query_canceled, and no code at all.
        for code in ["1", "2067", "42P01", "23505", "57014", ""] {
            assert!(!is_code_of_unavailable(code), "{code}");
        }
    }
}
