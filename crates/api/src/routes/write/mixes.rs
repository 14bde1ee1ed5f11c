//! Mixes.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{MixBody, Reader};

/// A container was filled with concentrate and water
#[utoipa::path(
    post,
    path = "/api/v1/mixes",
    tag = "shelf",
    params(once::Headers),
    request_body = MixBody,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn mix(
    State(api): State<Api>,
    caller: Caller,
    once: Once<MixBody>,
) -> Result<Response, Problem> {
    let read = |body: &MixBody, reader: &mut Reader<'_>| body.read(reader).map(Change::Mix);
    write(&api, &caller, &once, read).await
}
