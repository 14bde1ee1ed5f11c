//! Which steps of the migrations a database has made.

use capful_migrations::Migrator;
use sea_orm::ConnectionTrait;
use sea_orm_migration::MigratorTrait;

use crate::db::error::{StoreError, failed};

/// How many steps this version knows.
pub(crate) fn all() -> usize {
    Migrator::migrations().len()
}

/// The steps that a database has not made, in their order.
///
/// # Errors
/// [`StoreError::Newer`] where steps were made that this version does not know.
pub(crate) async fn pending(connection: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    match Migrator::get_pending_migrations_read_only(connection).await {
        Ok(pending) => Ok(pending.iter().map(|step| step.name().to_owned()).collect()),
        Err(sea_orm::DbErr::Custom(text)) => Err(StoreError::Newer(text)),
        Err(error) => Err(failed(error)),
    }
}
