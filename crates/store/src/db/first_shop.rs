//! The first shop of a database: of all who would make it, whoever comes first does.

use capful_domain::Shop;
use sea_orm::sea_query::Expr;
use sea_orm::{DatabaseTransaction, DbErr, EntityTrait, QueryOrder, QuerySelect};
use uuid::Uuid;

use crate::db::error::{Failure, StoreError};
use crate::db::locks::wait_for;
use crate::db::work::Work;
use crate::rows::Stored;

/// Stands for whichever shop comes to be the first: whoever would make it waits for this one.
pub(crate) const ANY_NEW_SHOP: Uuid = Uuid::nil();

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
