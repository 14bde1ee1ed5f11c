//! Whether a shop is still set up as it was when it was read.

use sea_orm::sea_query::{Expr, ExprTrait, Query, SelectStatement, SimpleExpr};
use sea_orm::{
    ConnectionTrait, DbErr, EntityTrait, FromQueryResult, QueryFilter, QueryResult, QuerySelect,
};
use uuid::Uuid;

use crate::db::error::failed;
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::store::Store;
use crate::db::work::Work;
use crate::request::change::Change;
use crate::rows::Stored;

/// What the settings, products, job types and usage sheets of a shop come to: two stamps are the
/// same where none of them was written in between.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SetupVersion(pub(crate) i64);

/// How often a shop was set up: a column that only this counts by.
const SET_UP: &str = "set_up";

impl Change {
    /// Whether it may write any of what a shop is set up with.
    const fn sets_up(&self) -> bool {
        matches!(
            self,
            Self::Shop(_)
                | Self::Product(_)
                | Self::Ratio(_)
                | Self::Supplier(_)
                | Self::Offer(_)
                | Self::JobType(_)
                | Self::Service(..)
                | Self::SheetRow(_)
                | Self::Import { .. }
                | Self::Undo { .. }
        )
    }
}

impl Work<'_> {
    /// Counts a change that sets up, in its transaction.
    pub(crate) async fn stamp(&self, change: &Change) -> Result<(), Failure> {
        if !change.sets_up() {
            return Ok(());
        }
        let mut count = Query::update();
        count
            .table("shop")
            .value(SET_UP, Expr::col(SET_UP).add(1))
            .and_where(sql::of_shop(self.shop));
        self.write(self.tx.get_database_backend().build(&count)).await
    }
}

impl Store {
    /// What a shop's set-up comes to now, to see later whether it was changed since.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn set_up_stamp(&self, shop: Uuid) -> Result<SetupVersion, StoreError> {
        let own = <capful_domain::Shop as Stored>::Table::find()
            .select_only()
            .expr(Expr::col(SET_UP))
            .filter(sql::of_shop(shop));
        let number = own.into_tuple::<i64>().one(&self.readers).await.map_err(failed)?;
        Ok(number.map(SetupVersion).unwrap_or_default())
    }
}

/// A row, and how its shop is set up.
pub(crate) struct Stamped<M> {
    pub row: M,
    pub stamp: SetupVersion,
}

/// Adds to a query of rows how their shop is set up.
pub(crate) fn ask(query: &mut SelectStatement, table: &'static str) {
    let of_row = Expr::col(("shop", "shop_id")).equals((table, "shop_id"));
    let mut own = Query::select();
    own.column(SET_UP).from("shop").and_where(of_row);
    query.expr_as(SimpleExpr::SubQuery(None, Box::new(own.into())), SET_UP);
}

impl<M: FromQueryResult> FromQueryResult for Stamped<M> {
    fn from_query_result(row: &QueryResult, prefix: &str) -> Result<Self, DbErr> {
        let number: Option<i64> = row.try_get("", SET_UP)?;
        let stamp = number.map(SetupVersion).unwrap_or_default();
        Ok(Self { row: M::from_query_result(row, prefix)?, stamp })
    }
}
