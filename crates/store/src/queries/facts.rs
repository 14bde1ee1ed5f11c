//! Reading a shop: all that was written down, in a fixed number of queries.

use capful_domain::{Facts, Shop};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{
    AccessMode, ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, EntityTrait,
    IsolationLevel, QueryFilter, QueryOrder, TransactionOptions, TransactionTrait,
};
use uuid::Uuid;

use crate::db::boxed::Boxed;
use crate::db::error::failed;
use crate::db::error::{Failure, StoreError};
use crate::db::schema;
use crate::db::sql;
use crate::db::store::Store;
use crate::rows::{RowMeta, Stored};

/// Which rows of the shelf are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Which {
    /// Every one, reversed or not.
    All,
    /// Those that stand.
    Standing,
    /// Those that stood at a moment.
    StoodAt(DateTime<Utc>),
}

impl Store {
    /// Everything that a shop has written down, each list in the order it was written: what the
    /// shop folder would hold. With a moment, rows that were reversed until then are left out, and
    /// those that were reversed later are not; without one, every reversed row is left out. Rows of
    /// later moments are not: `Snapshot::of` leaves them out.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such shop, [`StoreError::Database`].
    pub async fn facts(
        &self,
        shop: Uuid,
        as_of: Option<DateTime<Utc>>,
    ) -> Result<Facts, StoreError> {
        let tx = self.begin_reading().await?;
        let which = as_of.map_or(Which::Standing, Which::StoodAt);
        let facts = read(&tx, shop, which).await?;
        tx.commit().await.map_err(failed)?;
        facts.ok_or_else(|| sql::not_found::<Shop>(&shop.to_string()))
    }

    /// Begins to read: what is read until its end is of one moment.
    pub(crate) async fn begin_reading(&self) -> Result<DatabaseTransaction, StoreError> {
        begin_reading(&self.readers).await
    }

    /// Every shop and its settings, in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn shops(&self) -> Result<Vec<(Uuid, Shop)>, StoreError> {
        shops(&self.readers).await
    }
}

/// Begins to read from a database: what is read until its end is of one moment.
pub(crate) async fn begin_reading(
    connection: &DatabaseConnection,
) -> Result<DatabaseTransaction, StoreError> {
    let options = match connection.get_database_backend() {
        DbBackend::Postgres => TransactionOptions {
            isolation_level: Some(IsolationLevel::RepeatableRead),
            access_mode: Some(AccessMode::ReadOnly),
            ..TransactionOptions::default()
        },
        _ => TransactionOptions::default(),
    };
    connection.begin_with_options(options).await.map_err(failed)
}

/// Every shop and its settings, in the order they were made.
pub(crate) async fn shops(
    connection: &impl ConnectionTrait,
) -> Result<Vec<(Uuid, Shop)>, StoreError> {
    let all = <Shop as Stored>::Table::find().order_by_asc(Expr::col("id"));
    let rows = all.all(connection).await.map_err(failed)?;
    let read = |row| Shop::from_row(row).map(|(place, shop)| (place.shop, shop));
    Ok(rows.iter().map(read).collect::<Result<_, _>>()?)
}

/// Everything that a shop has written down; nothing where there is no such shop.
pub(crate) fn read(
    connection: &DatabaseTransaction,
    shop: Uuid,
    which: Which,
) -> Boxed<'_, Result<Option<Facts>, Failure>> {
    Box::pin(async move {
        let own = <Shop as Stored>::Table::find().filter(sql::of_shop(shop));
        let Some(settings) = own.one(connection).await? else { return Ok(None) };
        let (_, settings) = Shop::from_row(&settings)?;
        let reading = Reading { connection, shop, which };
        Ok(Some(Facts {
            shop: settings,
            products: reading.rows().await?,
            ratios: reading.rows().await?,
            suppliers: reading.rows().await?,
            offers: reading.rows().await?,
            job_types: reading.rows().await?,
            usage_sheet: reading.rows().await?,
            jobs: reading.rows().await?,
            pours: reading.rows().await?,
            receipts: reading.rows().await?,
            openings: reading.rows().await?,
            discards: reading.rows().await?,
            mixes: reading.rows().await?,
            counts: reading.rows().await?,
            orders: reading.rows().await?,
            order_lines: reading.rows().await?,
        }))
    })
}

struct Reading<'c> {
    connection: &'c DatabaseTransaction,
    shop: Uuid,
    which: Which,
}

impl Reading<'_> {
    async fn rows<T: Stored>(&self) -> Result<Vec<T>, Failure> {
        let stands = || Expr::col("reversed_at").is_null();
        let condition = match self.which {
            _ if !T::IS_EVENT => None,
            Which::All => None,
            Which::Standing => Some(stands()),
            Which::StoodAt(moment) => Some(stands().or(Expr::col("reversed_at").gt(moment))),
        };
        let rows: Vec<(RowMeta, T)> = sql::list(self.connection, self.shop, condition).await?;
        Ok(rows.into_iter().map(|(_, row)| row).collect())
    }
}

/// The ids of all shops, whatever version their tables are of.
pub(crate) async fn shop_ids(connection: &impl ConnectionTrait) -> Result<Vec<Uuid>, StoreError> {
    let rows = schema::rows(connection, "SELECT shop_id FROM shop ORDER BY shop_id").await?;
    rows.iter().map(|row| row.try_get_by_index(0).map_err(failed)).collect()
}
