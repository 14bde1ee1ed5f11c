//! Discards.

use capful_domain::facts::Discard;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// Something was thrown away or sent back.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DiscardBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "paint-coating-50", value_type = schema::Id)]
    pub product: String,
    /// How much; without it: the whole container.
    #[schema(value_type = Option<schema::NotNegative>)]
    pub quantity: Option<Number>,
    /// Its unit; without it: the product's own.
    #[schema(value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// Which container; without it: first expired, first out.
    #[schema(example = "R-0412/1", value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
    /// `expired`, `spilled`, `damaged` or `returned`.
    #[schema(value_type = Option<schema::ReasonWord>)]
    pub reason: Option<String>,
}

impl DiscardBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Discard> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let amount = match &self.quantity {
            Some(quantity) => {
                reader.amount(product.as_ref(), quantity, self.unit.as_ref()).map(Some)
            }
            None => {
                if let Some(unit) = &self.unit {
                    reader.wrong("unit", unit, "nothing, as no quantity is given");
                }
                Some(None)
            }
        };
        let container = reader.container(self.container.as_ref());
        let reason = reader.word("reason", self.reason.as_ref());
        Some(Discard { id: id?, at: at?, product: product?, amount: amount?, container, reason })
    }
}
