//! Requests whose address says it all.

use serde::Deserialize;
use utoipa::ToSchema;

/// Nothing: no body, or `{}`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoBody {}
