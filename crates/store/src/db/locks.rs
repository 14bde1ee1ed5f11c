//! Whoever changes a shop waits for who did before.

use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, Statement, Value};
use uuid::Uuid;

/// Waits until nobody else changes this shop, and keeps others waiting until the transaction ends.
/// SQLite has one writer, and nobody to wait for here.
pub(crate) async fn wait_for(tx: &DatabaseTransaction, shop: Uuid) -> Result<(), DbErr> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let (key, _) = shop.as_u64_pair();
        let lock = "SELECT pg_advisory_xact_lock($1, $2)";
        let values = [(key >> 32) as i32, key as i32].map(Value::from);
        tx.execute_raw(Statement::from_sql_and_values(DbBackend::Postgres, lock, values)).await?;
    }
    Ok(())
}
