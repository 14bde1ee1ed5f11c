//! The weekly order and orders: placed, printed, received. Going off.

use axum::Router;

use crate::api::Api;

/// The pages of this part.
pub(crate) fn routes() -> Router<Api> {
    Router::new()
}
