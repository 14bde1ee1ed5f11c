//! Whether a shop is still set up as it was when it was read.

use sea_orm::{FromQueryResult, Statement};
use uuid::Uuid;

use crate::error::StoreError;
use crate::store::{Store, failed};

/// What the settings, products, job types and usage sheets of a shop come to: two stamps are the
/// same where nothing was written to any of them in between.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetUpStamp(Vec<OfTable>);

/// How many rows a table has, how often they were written, and which of them is the latest.
#[derive(Debug, Clone, PartialEq, Eq, FromQueryResult)]
struct OfTable {
    place: i64,
    number: i64,
    versions: i64,
    latest: Option<Uuid>,
}

/// Every request that writes asks this, so it is one statement, and its text is always the same.
///
/// Rows of these tables are added or written over, at their next version. Those of a usage sheet
/// are also taken off and written anew, together with their job type, whose version rises.
const OF_TABLES: &str = "\
    SELECT CAST(1 AS BIGINT) AS place, COUNT(*) AS number, \
        CAST(COALESCE(SUM(version), 0) AS BIGINT) AS versions, \
        (SELECT id FROM shop WHERE shop_id = $1 ORDER BY id DESC LIMIT 1) AS latest \
        FROM shop WHERE shop_id = $1 \
    UNION ALL \
    SELECT 2, COUNT(*), CAST(COALESCE(SUM(version), 0) AS BIGINT), \
        (SELECT id FROM product WHERE shop_id = $1 ORDER BY id DESC LIMIT 1) \
        FROM product WHERE shop_id = $1 \
    UNION ALL \
    SELECT 3, COUNT(*), CAST(COALESCE(SUM(version), 0) AS BIGINT), \
        (SELECT id FROM job_type WHERE shop_id = $1 ORDER BY id DESC LIMIT 1) \
        FROM job_type WHERE shop_id = $1 \
    UNION ALL \
    SELECT 4, COUNT(*), CAST(COALESCE(SUM(version), 0) AS BIGINT), \
        (SELECT id FROM usage_sheet WHERE shop_id = $1 ORDER BY id DESC LIMIT 1) \
        FROM usage_sheet WHERE shop_id = $1 \
    ORDER BY 1";

impl Store {
    /// What a shop's set-up comes to now, to see later whether it was changed since.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn set_up_stamp(&self, shop: Uuid) -> Result<SetUpStamp, StoreError> {
        let backend = self.readers.get_database_backend();
        let asked = Statement::from_sql_and_values(backend, OF_TABLES, [shop.into()]);
        let tables = OfTable::find_by_statement(asked).all(&self.readers).await;
        Ok(SetUpStamp(tables.map_err(failed)?))
    }
}
