//! Mistakes: a row is reversed by way of one of the movements that it made.

use axum::extract::{Path, State};
use axum::response::Response;
use capful_domain::Source;
use capful_store::{Change, Effects, EventKind, MovementFilter, Posted};
use uuid::Uuid;

use super::answer::{WrittenAnswer, created};
use crate::api::Api;
use crate::auth::Caller;
use crate::known::known;
use crate::once::{self, Once};
use crate::problem::{Kind, Problem};
use crate::written::{NoBody, refusal};

/// The row that a movement comes from was a mistake
///
/// Every movement of that row is undone by a new one; nothing is edited or deleted.
#[utoipa::path(
    post,
    path = "/api/v1/movements/{id}/reverse",
    tag = "shelf",
    params(("id" = Uuid, Path, description = "A movement's id"), once::Headers),
    request_body = Option<NoBody>,
    responses((status = 201, description = "What undid it", body = WrittenAnswer))
)]
pub(crate) async fn reverse(
    State(api): State<Api>,
    caller: Caller,
    Path(id): Path<String>,
    once: Once<Option<NoBody>>,
) -> Result<Response, Problem> {
    let posted = movement(&api, &caller, &id).await?;
    let change = reversal(&posted)?;
    let known = known(&api, &caller).await?;
    let answer = |outcome: &Effects| created(&WrittenAnswer::of(outcome, &known));
    let done = api.store.change(&once.asked(&caller, api.now()), &change, answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, None))?))
}

async fn movement(api: &Api, caller: &Caller, id: &str) -> Result<Posted, Problem> {
    let filter = Uuid::parse_str(id).ok().map(MovementFilter::Id);
    let found = match filter {
        Some(filter) => api.store.movements(caller.shop, &filter).await?.pop(),
        None => None,
    };
    let detail = || format!("there is no movement `{id}`; /api/v1/movements lists them");
    found.ok_or_else(|| Problem::new(Kind::NotFound, detail()))
}

/// The row that is to be reversed.
fn reversal(posted: &Posted) -> Result<Change, Problem> {
    let refused = |text: String| Err(Problem::new(Kind::Refused, text));
    if posted.reverses.is_some() {
        let text = "this movement undoes another one: write the row down anew in its place";
        return refused(text.to_owned());
    }
    let (kind, id) = match &posted.movement.source {
        Source::Receipt(id) => (EventKind::Receipt, id),
        Source::Opening(id) => (EventKind::Opening, id),
        Source::Mix(id) => (EventKind::Mix, id),
        Source::Pour(id) => (EventKind::Pour, id),
        Source::Discard(id) => (EventKind::Discard, id),
        Source::Count(id) => (EventKind::Count, id),
        Source::Expected(job) => {
            return refused(format!(
                "it is what job {job} was taken to have used, which no row says: count the \
                 product to set it right"
            ));
        }
    };
    Ok(Change::Reverse { kind, id: id.clone() })
}
