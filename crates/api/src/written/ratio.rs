//! Ratios that the shop has a name for.

use capful_domain::{Id, NamedRatio};
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Number, Reader};
use crate::schema;

/// A ratio that a product is used at, as it is from now on.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RatioBody {
    /// Parts of water to one part of product.
    #[schema(value_type = schema::Water)]
    pub water: Number,
}

impl RatioBody {
    pub(crate) fn read(
        &self,
        reader: &mut Reader<'_>,
        product: &Id,
        label: &str,
    ) -> Option<NamedRatio> {
        let label = reader.read("label", label, cells::text);
        let ratio = reader.water(Some(&self.water));
        Some(NamedRatio { product: product.clone(), label: label?, ratio: ratio? })
    }
}
