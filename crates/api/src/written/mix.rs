//! Mixes.

use capful_domain::facts::Mix;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// A container was filled with concentrate and water.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MixBody {
    /// The shop's own id of it, and the container's name; without one it gets one.
    #[schema(example = "M-31", value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// The concentrate.
    #[schema(example = "all-purpose", value_type = schema::Id)]
    pub product: String,
    /// How much of the mix.
    #[schema(value_type = schema::Positive)]
    pub quantity: Number,
    /// Its unit; without it: the product's own.
    #[schema(example = "mL", value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// Parts of water to one part of product.
    #[schema(value_type = schema::Water)]
    pub water: Number,
    /// Where the concentrate came from; without it: first expired, first out.
    #[schema(value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
}

impl MixBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Mix> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let ratio = reader.water(Some(&self.water));
        let (of, unit) = (product.as_ref(), self.unit.as_ref());
        let amount = reader.amount_of_mix(of, &self.quantity, unit, ratio);
        let container = reader.container(self.container.as_ref());
        let (id, at, product) = (id?, at?, product?);
        let amount = amount?;
        if amount.number.is_zero() {
            reader.wrong("quantity", &self.quantity, "more than nothing");
            return None;
        }
        Some(Mix { id, at, product, amount, ratio: ratio?, container })
    }
}
