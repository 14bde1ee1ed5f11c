//! Pours.

use capful_domain::Word;
use capful_domain::facts::Pour;
use chrono::{DateTime, Utc};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("pour", {
    own_id: String,
    at: DateTime<Utc>,
    product: String,
    reversed_at: Option<DateTime<Utc>>,
    quantity: String,
    unit: String,
    job: Option<String>,
    water: Option<String>,
    container: Option<String>,
    method: Option<String>,
});

impl sealed::Sealed for Pour {}

impl Stored for Pour {
    const WHAT: &'static str = "pour";
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
            job: text::texts(self.job.as_ref()),
            water: self.ratio.map(|ratio| ratio.water().to_string()),
            container: text::texts(self.container.as_ref()),
            method: self.method.map(|method| method.word().to_owned()),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let pour = Self {
            id: text::id(&row.own_id)?,
            at: row.at,
            product: text::id(&row.product)?,
            amount: text::amount(&row.quantity, &row.unit)?,
            job: text::maybe(row.job.as_ref(), text::id)?,
            ratio: text::maybe(row.water.as_ref(), text::ratio)?,
            container: text::maybe(row.container.as_ref(), text::container)?,
            method: text::maybe(row.method.as_ref(), text::word)?,
        };
        let place = RowMeta { reversed_at: row.reversed_at, ..RowMeta::new(row.shop_id, row.id) };
        Ok((place, pour))
    }
}
