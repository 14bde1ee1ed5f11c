//! Pours.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{PourBody, PourRows, Reader};

/// What was poured, for a job or for none
///
/// The books never block: more than they hold is taken as it happened, and the product is flagged
/// for a count. A list is written down whole or not at all.
#[utoipa::path(
    post,
    path = "/api/v1/pours",
    tag = "shelf",
    params(once::Headers),
    request_body = PourRows,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn pour(
    State(api): State<Api>,
    caller: Caller,
    once: Once<PourRows>,
) -> Result<Response, Problem> {
    let read = |body: &PourRows, reader: &mut Reader<'_>| {
        body.read(reader, PourBody::read).map(Change::Pour)
    };
    write(&api, &caller, &once, read).await
}
