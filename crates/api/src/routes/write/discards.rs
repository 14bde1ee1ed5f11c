//! Discards.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{DiscardBody, Reader};

/// Something was thrown away or sent back
#[utoipa::path(
    post,
    path = "/api/v1/discards",
    tag = "shelf",
    params(once::Headers),
    request_body = DiscardBody,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn discard(
    State(api): State<Api>,
    caller: Caller,
    once: Once<DiscardBody>,
) -> Result<Response, Problem> {
    let read = |body: &DiscardBody, reader: &mut Reader<'_>| body.read(reader).map(Change::Discard);
    write(&api, &caller, &once, read).await
}
