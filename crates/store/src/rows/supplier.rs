//! Suppliers.

use capful_domain::{Money, Supplier, Word};

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("supplier", {
    own_id: String,
    name: String,
    lead_days: String,
    lead_days_sd: Option<String>,
    order_weekdays: String,
    freight: i64,
    free_freight_over: Option<i64>,
    minimum_order: i64,
    version: i64,
});

impl sealed::Sealed for Supplier {}

impl Stored for Supplier {
    const WHAT: &'static str = "supplier";
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
            name: self.name.clone(),
            lead_days: self.lead_days.to_string(),
            lead_days_sd: text::texts(self.lead_days_sd.as_ref()),
            order_weekdays: text::list_text(self.order_weekdays.iter().map(|day| day.word())),
            freight: self.freight.minor(),
            free_freight_over: self.free_freight_over.map(Money::minor),
            minimum_order: self.minimum_order.minor(),
            version: place.version,
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let supplier = Self {
            id: text::id(&row.own_id)?,
            name: row.name.clone(),
            lead_days: text::decimal(&row.lead_days)?,
            lead_days_sd: text::maybe(row.lead_days_sd.as_ref(), text::decimal)?,
            order_weekdays: text::list(&row.order_weekdays, text::word)?,
            freight: Money::from_minor(row.freight),
            free_freight_over: row.free_freight_over.map(Money::from_minor),
            minimum_order: Money::from_minor(row.minimum_order),
        };
        Ok((RowMeta { version: row.version, ..RowMeta::new(row.shop_id, row.id) }, supplier))
    }
}
