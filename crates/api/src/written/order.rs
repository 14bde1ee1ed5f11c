//! Orders.

use capful_domain::facts::{Order, OrderLine, OrderStatus};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// An order placed with a supplier.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OrderBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(example = "O-88", value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub placed_at: Option<String>,
    /// With whom.
    #[schema(example = "north-dock", value_type = schema::Id)]
    pub supplier: String,
    /// What was ordered.
    #[schema(min_items = 1)]
    pub lines: Vec<OrderLineBody>,
}

/// A line of an order.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OrderLineBody {
    /// Of what.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How many packs.
    #[schema(value_type = schema::Count)]
    pub packs: Number,
    /// The supplier's code.
    #[schema(value_type = Option<schema::Line>)]
    pub supplier_code: Option<String>,
}

impl OrderBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<(Order, Vec<OrderLine>)> {
        let id = reader.new_id(self.id.as_ref());
        let placed_at = reader.time("placed_at", self.placed_at.as_ref());
        let supplier = reader.read("supplier", &self.supplier, cells::id);
        if self.lines.is_empty() {
            reader.wrong("lines", "", "at least one line");
        }
        let lines = reader.each("lines", &self.lines, |reader, line| {
            let product = reader.read("product", &line.product, cells::id);
            let packs = reader.read("packs", &line.packs, cells::containers);
            let code = reader.maybe("supplier_code", line.supplier_code.as_ref(), cells::text);
            Some((product?, packs?, code))
        });
        let (id, status) = (id?, Some(OrderStatus::Placed));
        let line = |(product, packs, supplier_code)| OrderLine {
            order: id.clone(),
            product,
            packs,
            supplier_code,
        };
        let lines = lines?.into_iter().map(line).collect();
        Some((Order { id, placed_at: placed_at?, supplier: supplier?, status }, lines))
    }
}
