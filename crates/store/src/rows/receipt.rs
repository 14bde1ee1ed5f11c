//! Receipts.

use capful_domain::Money;
use capful_domain::facts::Receipt;
use chrono::{DateTime, NaiveDate, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("receipt", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    containers: i64,
    unit_cost: i64,
    supplier: Option<String>,
    lot: Option<String>,
    best_before: Option<NaiveDate>,
    order_id: Option<String>,
    container_size: Option<String>,
});

impl sealed::Sealed for Receipt {}

impl Stored for Receipt {
    const WHAT: &'static str = "receipt";
    const IS_EVENT: bool = true;
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        self.id.to_string()
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            own_id: self.key(),
            at: self.at,
            product: self.product.to_string(),
            reversed_at: place.reversed_at,
            containers: self.containers.into(),
            unit_cost: self.unit_cost.minor(),
            supplier: text::texts(self.supplier.as_ref()),
            lot: self.lot.clone(),
            best_before: self.best_before,
            order_id: text::texts(self.order.as_ref()),
            container_size: text::texts(self.container_size.as_ref()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let receipt = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            containers: text::whole(row.containers)?,
            unit_cost: Money::from_minor(row.unit_cost),
            supplier: text::maybe(row.supplier.as_ref(), text::id)?,
            lot: row.lot.clone(),
            best_before: row.best_before,
            order: text::maybe(row.order_id.as_ref(), text::id)?,
            container_size: text::maybe(row.container_size.as_ref(), text::decimal)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, receipt))
    }
}
