//! Orders.

use capful_domain::Word;
use capful_domain::facts::Order;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("purchase_order", {
    own_id: String,
    placed_at: DateTime<Utc>,
    supplier: String,
    status: Option<String>,
    version: i64,
});

impl sealed::Sealed for Order {}

impl Stored for Order {
    const WHAT: &'static str = "order";
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
            placed_at: self.placed_at,
            supplier: self.supplier.to_string(),
            status: self.status.map(|status| status.word().to_owned()),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let order = Self {
            id: text::id(&row.own_id)?,
            placed_at: row.placed_at,
            supplier: text::id(&row.supplier)?,
            status: text::maybe(row.status.as_ref(), text::word)?,
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, order))
    }
}
