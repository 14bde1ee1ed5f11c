//! Jobs: booked, moved, cancelled, looked at; usage and costs.

use axum::Router;

use crate::api::Api;

/// The pages of this part.
pub(crate) fn routes() -> Router<Api> {
    Router::new()
}
