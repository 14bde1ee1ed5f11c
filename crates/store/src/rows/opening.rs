//! Openings.

use capful_domain::facts::Opening;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("opening", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    container: Option<String>,
});

impl sealed::Sealed for Opening {}

impl Stored for Opening {
    const WHAT: &'static str = "opening";
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
            container: text::texts(self.container.as_ref()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let opening = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            container: text::maybe(row.container.as_ref(), text::container)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, opening))
    }
}
