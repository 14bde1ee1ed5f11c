//! Requests whose address says it all.

use serde::Deserialize;

/// Nothing: no body, or `{}`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoBody {}
