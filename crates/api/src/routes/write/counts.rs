//! Counts.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{CountBody, Reader};

/// What somebody saw or weighed
///
/// The difference from the books is a movement too.
#[utoipa::path(
    post,
    path = "/api/v1/counts",
    tag = "shelf",
    params(once::Headers),
    request_body = CountBody,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn count(
    State(api): State<Api>,
    caller: Caller,
    once: Once<CountBody>,
) -> Result<Response, Problem> {
    let read = |body: &CountBody, reader: &mut Reader<'_>| body.read(reader).map(Change::Count);
    write(&api, &caller, &once, read).await
}
