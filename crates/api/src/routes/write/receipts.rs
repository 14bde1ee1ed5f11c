//! Receipts.

use axum::extract::State;
use axum::response::Response;
use capful_store::Change;

use super::answer::{WrittenAnswer, write};
use crate::api::Api;
use crate::auth::Caller;
use crate::once::{self, Once};
use crate::problem::Problem;
use crate::written::{Reader, ReceiptBody, ReceiptRows};

/// What came in, in whole or in part of an order
///
/// One row for each lot; a list is written down whole or not at all.
#[utoipa::path(
    post,
    path = "/api/v1/receipts",
    tag = "orders",
    params(once::Headers),
    request_body = ReceiptRows,
    responses((status = 201, description = "What it did to the shelf", body = WrittenAnswer))
)]
pub(crate) async fn receive(
    State(api): State<Api>,
    caller: Caller,
    once: Once<ReceiptRows>,
) -> Result<Response, Problem> {
    let read = |body: &ReceiptRows, reader: &mut Reader<'_>| {
        body.read(reader, ReceiptBody::read).map(Change::Receive)
    };
    write(&api, &caller, &once, read).await
}
