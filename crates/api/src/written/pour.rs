//! Pours.

use capful_domain::facts::Pour;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, OneOrMany, Reader};
use crate::schema;

/// One pour, or several that are written down together.
pub(crate) type PourRows = OneOrMany<PourBody>;

/// What was poured, for a job or for none.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PourBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(example = "P-1207", value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "iron-remover", value_type = schema::Id)]
    pub product: String,
    /// How much; of the mix where `water` is given or `container` is a mix. Nothing: it took none.
    #[schema(value_type = schema::NotNegative)]
    pub quantity: Number,
    /// Its unit; without it: the product's own.
    #[schema(example = "mL", value_type = Option<schema::UnitWord>)]
    pub unit: Option<String>,
    /// For which job.
    #[schema(value_type = Option<schema::Id>)]
    pub job: Option<String>,
    /// Parts of water to one part of product, of the mix that was measured.
    #[schema(value_type = Option<schema::Water>)]
    pub water: Option<Number>,
    /// Out of which container; without it: first expired, first out.
    #[schema(value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
    /// `measured`, `weighed` or `expected`; without it: `measured`.
    #[schema(value_type = Option<schema::MethodWord>)]
    pub method: Option<String>,
}

impl PourBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Pour> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let ratio = reader.water(self.water.as_ref());
        let (of, unit) = (product.as_ref(), self.unit.as_ref());
        let amount = reader.amount_of_mix(of, &self.quantity, unit, ratio);
        let job = reader.maybe("job", self.job.as_ref(), cells::id);
        let container = reader.container(self.container.as_ref());
        let method = reader.word("method", self.method.as_ref());
        let (id, at, product, amount) = (id?, at?, product?, amount?);
        Some(Pour { id, at, product, amount, job, ratio, container, method })
    }
}
