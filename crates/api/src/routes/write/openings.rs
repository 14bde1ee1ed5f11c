//! Openings.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{OpeningBody, Reader};

/// A container was opened
#[utoipa::path(
    post,
    path = "/api/v1/openings",
    tag = "shelf",
    params(once::Headers),
    request_body = OpeningBody,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn open(
    State(api): State<Api>,
    caller: Caller,
    once: Once<OpeningBody>,
) -> Result<Response, Problem> {
    let read = |body: &OpeningBody, reader: &mut Reader<'_>| body.read(reader).map(Change::Open);
    write(&api, &caller, &once, read).await
}
