//! Mixes.

use capful_domain::facts::Mix;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("mix", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    quantity: String,
    unit: String,
    water: String,
    container: Option<String>,
});

impl sealed::Sealed for Mix {}

impl Stored for Mix {
    const WHAT: &'static str = "mix";
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
            quantity: self.amount.number.to_string(),
            unit: self.amount.unit.to_string(),
            water: self.ratio.water().to_string(),
            container: text::texts(self.container.as_ref()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let mix = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            amount: text::amount(&row.quantity, &row.unit)?,
            ratio: text::ratio(&row.water)?,
            container: text::maybe(row.container.as_ref(), text::container)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, mix))
    }
}
