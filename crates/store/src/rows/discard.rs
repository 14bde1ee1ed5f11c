//! Discards.

use capful_domain::Word;
use capful_domain::facts::Discard;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("discard", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    quantity: Option<String>,
    unit: Option<String>,
    container: Option<String>,
    reason: Option<String>,
});

impl sealed::Sealed for Discard {}

impl Stored for Discard {
    const WHAT: &'static str = "discard";
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
            container: text::texts(self.container.as_ref()),
            reason: self.reason.map(|reason| reason.word().to_owned()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let discard = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            amount: text::maybe_amount(row.quantity.as_ref(), row.unit.as_ref())?,
            container: text::maybe(row.container.as_ref(), text::container)?,
            reason: text::maybe(row.reason.as_ref(), text::word)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, discard))
    }
}
