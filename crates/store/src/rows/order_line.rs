//! The lines of orders. A line has no name of its own: an order may have two alike.

use capful_domain::facts::OrderLine;

use super::text::{self, Unreadable};
use super::{RowMeta, Stored, sealed, table};

table!("order_line", {
    order_id: String,
    product: String,
    packs: i64,
    supplier_code: Option<String>,
});

impl sealed::Sealed for OrderLine {}

impl Stored for OrderLine {
    const WHAT: &'static str = "line of an order";
    const HAS_KEY: bool = false;
    type Table = Entity;
    type Row = Model;

    fn key(&self) -> String {
        format!("{}, {}", self.order, self.product)
    }

    fn to_row(&self, place: RowMeta) -> Model {
        Model {
            shop_id: place.shop,
            id: place.id,
            order_id: self.order.to_string(),
            product: self.product.to_string(),
            packs: self.packs.into(),
            supplier_code: self.supplier_code.clone(),
        }
    }

    fn from_row(row: &Model) -> Result<(RowMeta, Self), Unreadable> {
        let line = Self {
            order: text::id(&row.order_id)?,
            product: text::id(&row.product)?,
            packs: text::whole(row.packs)?,
            supplier_code: row.supplier_code.clone(),
        };
        Ok((RowMeta::new(row.shop_id, row.id), line))
    }
}
