//! A transaction that writes, and what it works with.

use std::sync::{Mutex, PoisonError};

use chrono::{DateTime, Utc};
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, Statement, Value};
use uuid::Uuid;

use crate::db::error::Failure;
use crate::db::sql;
use crate::db::store::Store;

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
    pub is_retry: bool,
    pub later: Mutex<Option<Vec<Statement>>>,
}

impl Work<'_> {
    /// A new id, later than all before it.
    pub(crate) fn new_id(&self) -> Uuid {
        self.store.new_uuid(self.now)
    }

    /// From here on nothing is read that is written: what is written is gathered until its end.
    pub(crate) fn defer_writes(&self) {
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

    /// Writes what was gathered, all at once: for SQLite as one text of several statements, for
    /// PostgreSQL as one statement with the others within it. None reads what another writes.
    pub(crate) async fn flush_writes(&self) -> Result<(), Failure> {
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
