//! Setting up: shop, suppliers, products, job types, the folder; people and who did what.

use axum::Router;

use crate::api::Api;

/// The pages of this part.
pub(crate) fn routes() -> Router<Api> {
    Router::new()
}
