//! Openings.

use capful_domain::facts::Opening;
use capful_folder::cells;
use serde::Deserialize;
use utoipa::ToSchema;

use super::Reader;
use crate::schema;

/// A container was opened.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OpeningBody {
    /// The shop's own id of it; without one it gets one.
    #[schema(value_type = Option<schema::Id>)]
    pub id: Option<String>,
    /// When; without it: now.
    #[schema(value_type = Option<schema::Time>)]
    pub at: Option<String>,
    /// Of what.
    #[schema(example = "paint-coating-50", value_type = schema::Id)]
    pub product: String,
    /// Which; without it: the next sealed one, and the last one is empty.
    #[schema(example = "R-0412/1", value_type = Option<schema::ContainerName>)]
    pub container: Option<String>,
}

impl OpeningBody {
    pub(crate) fn read(&self, reader: &mut Reader<'_>) -> Option<Opening> {
        let id = reader.new_id(self.id.as_ref());
        let at = reader.time("at", self.at.as_ref());
        let product = reader.read("product", &self.product, cells::id);
        let container = reader.container(self.container.as_ref());
        Some(Opening { id: id?, at: at?, product: product?, container })
    }
}
