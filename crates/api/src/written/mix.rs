//! Mixes.

use capful_domain::facts::Mix;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};

/// A container was filled with concentrate and water.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MixBody {
    /// The shop's own id of it, and the container's name; without one it gets one.
    #[schema(example = "M-31")]
    pub id: Option<String>,
    /// When; without it: now.
    pub at: Option<String>,
    /// The concentrate.
    #[schema(example = "all-purpose")]
    pub product: String,
    /// How much of the mix.
    pub quantity: Number,
    /// Its unit; without it: the product's own.
    #[schema(example = "mL")]
    pub unit: Option<String>,
    /// Parts of water to one part of product.
    pub water: Number,
    /// Where the concentrate came from; without it: first expired, first out.
    pub container: Option<String>,
}

impl MixBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Mix> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let amount = reader.amount(product.as_ref(), &self.quantity, self.unit.as_ref());
        let ratio = reader.water(Some(&self.water));
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
