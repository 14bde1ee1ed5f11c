//! Receipts.

use capful_domain::facts::Receipt;
use capful_domain::{Amount, Id};
use capful_folder::cells;
use rust_decimal::Decimal;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, OneOrMany, Reader};
use crate::schema;

/// One receipt, or several that are written down together.
pub(crate) type ReceiptRows = OneOrMany<ReceiptBody>;

/// Containers that came in, of one lot.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReceiptBody {
    /// The shop's own id of it, after which its containers are named; without one it gets one.
    #[schema(example = "R-0412", value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How many containers.
    #[schema(value_type = schema::Count)]
    pub containers: Number,
    /// What one container cost.
    #[schema(value_type = schema::Money)]
    pub unit_cost: Number,
    /// From whom.
    #[schema(value_type = Option<schema::Id>)]
    pub supplier: Option<String>,
    /// The maker's batch code.
    #[schema(value_type = Option<schema::Line>)]
    pub lot: Option<String>,
    /// The date on them.
    #[schema(example = "2027-08-31", value_type = Option<schema::Day>)]
    pub best_before: Option<String>,
    /// Against which order, in part or whole.
    #[schema(value_type = Option<schema::Id>)]
    pub order: Option<String>,
    /// What each holds, in the product's unit, where it differs from the product's own size.
    #[schema(value_type = Option<schema::Positive>)]
    pub container_size: Option<Number>,
}

impl ReceiptBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Receipt> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let containers = reader.read("containers", &self.containers, cells::containers);
        let unit_cost = reader.money("unit_cost", &self.unit_cost);
        let supplier = reader.maybe("supplier", self.supplier.as_ref(), cells::id);
        let lot = reader.maybe("lot", self.lot.as_ref(), cells::text);
        let best_before = reader.maybe("best_before", self.best_before.as_ref(), cells::day);
        let order = reader.maybe("order", self.order.as_ref(), cells::id);
        let container_size = self.size(reader, product.as_ref());
        Some(Receipt {
            id: id?,
            at: at?,
            product: product?,
            containers: containers?,
            unit_cost: unit_cost?,
            supplier,
            lot,
            best_before,
            order,
            container_size,
        })
    }

    fn size(&self, reader: &mut Reader<'_>, product: Option<&Id>) -> Option<Decimal> {
        let text = self.container_size.as_ref();
        let number = reader.maybe("container_size", text, cells::decimal_above_zero)?;
        let product = product.and_then(|id| reader.product(id))?;
        match product.quantity(Amount { number, unit: product.unit }) {
            Ok(_) => return Some(number),
            Err(wrong) => {
                reader.wrong("container_size", &number.to_string(), &wrong.to_string());
            }
        }
        None
    }
}
