//! The first shop of a database: of all who would make it, whoever comes first does.

use capful_domain::Shop;
use sea_orm::sea_query::Expr;
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, EntityTrait, QueryOrder, QuerySelect,
    Statement, Value,
};
use uuid::Uuid;

use crate::error::{Failure, StoreError};
use crate::rows::Stored;
use crate::store::Work;

/// Stands for whichever shop comes to be the first: whoever would make it waits for this one.
pub(crate) const ANY_NEW_SHOP: Uuid = Uuid::nil();

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

/// The shop that came first, where there is any.
pub(crate) async fn first_shop(tx: &DatabaseTransaction) -> Result<Option<Uuid>, DbErr> {
    let shops = <Shop as Stored>::Table::find().order_by_asc(Expr::col("id")).limit(1);
    Ok(shops.one(tx).await?.map(|row| row.shop_id))
}

impl Work<'_> {
    /// Holds a shop that is about to be made to be the first, where it is asked to be.
    pub(crate) async fn may_make_shop(&self) -> Result<(), Failure> {
        if !self.is_first {
            return Ok(());
        }
        wait_for(&self.tx, ANY_NEW_SHOP).await?;
        match first_shop(&self.tx).await? {
            None => Ok(()),
            Some(_) => {
                let text = "another shop was opened in this database meanwhile: ask again";
                Err(StoreError::Refused(text.to_owned()).into())
            }
        }
    }
}
