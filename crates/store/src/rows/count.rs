//! Counts.

use capful_domain::facts::Count;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("count", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    quantity: Option<String>,
    unit: Option<String>,
    gross_g: Option<String>,
    container: Option<String>,
    sealed: Option<i64>,
    sd_share: Option<String>,
});

impl sealed::Sealed for Count {}

impl Stored for Count {
    const WHAT: &'static str = "count";
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
            quantity: self.amount.map(|amount| amount.number.to_string()),
            unit: self.amount.map(|amount| amount.unit.to_string()),
            gross_g: text::texts(self.gross_g.as_ref()),
            container: text::texts(self.container.as_ref()),
            sealed: self.sealed.map(i64::from),
            sd_share: text::texts(self.sd_share.as_ref()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let count = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            amount: text::maybe_amount(row.quantity.as_ref(), row.unit.as_ref())?,
            gross_g: text::maybe(row.gross_g.as_ref(), text::decimal)?,
            container: text::maybe(row.container.as_ref(), text::container)?,
            sealed: text::maybe_whole(row.sealed)?,
            sd_share: text::maybe(row.sd_share.as_ref(), text::decimal)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, count))
    }
}
