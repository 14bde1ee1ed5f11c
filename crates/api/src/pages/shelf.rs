//! The shelf: products as their containers, what is done to them, their labels.

use axum::Router;

use crate::api::Api;

/// The pages of this part.
pub(crate) fn routes() -> Router<Api> {
    Router::new()
}
