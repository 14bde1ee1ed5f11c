//! Deeds: what somebody did is undone.

use axum::extract::{Path, State};
use axum::response::Response;
use capful_store::{Change, Effects, Scope};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::answer::{WrittenAnswer, created};
use crate::api::Api;
use crate::auth::Caller;
use crate::known::known;
use crate::once::{self, Once};
use crate::problem::{Kind, Problem};
use crate::written::{NoBody, refusal};

/// What was undone.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct UndoneAnswer {
    /// The version of the job, the order or what was set up that is as it was before, where it was
    /// one.
    pub version: Option<i64>,
    /// The rows that were reversed or written over, and what that did to the shelf.
    #[serde(flatten)]
    pub written: WrittenAnswer,
}

/// What somebody did is undone
///
/// Rows of the shelf are reversed; a job, an order or what was set up is as it was before, or is
/// taken away where it was new. What sets up is undone with a token of scope `setup`. People,
/// tokens, a history that was imported, and what was reversed or undone stay as they are.
#[utoipa::path(
    post,
    path = "/api/v1/deeds/{id}/undo",
    tag = "shelf",
    params(("id" = Uuid, Path, description = "A deed's id"), once::Headers),
    request_body = Option<NoBody>,
    responses((status = 201, description = "What undid it", body = UndoneAnswer))
)]
pub(crate) async fn undo(
    State(api): State<Api>,
    caller: Caller,
    Path(id): Path<String>,
    once: Once<Option<NoBody>>,
) -> Result<Response, Problem> {
    let nothing = || format!("there is no deed `{id}`; /api/v1/deeds lists them");
    let deed = Uuid::parse_str(&id).map_err(|_| Problem::new(Kind::NotFound, nothing()))?;
    let found = api.store.deed(caller.shop, deed).await?;
    if found.is_some_and(|found| found.can_be_undone && found.what.sets_up())
        && caller.scope < Scope::Setup
    {
        let detail = "what sets up is undone with a token of scope `setup`";
        return Err(Problem::new(Kind::ScopeTooNarrow, detail));
    }
    let known = known(&api, &caller).await?;
    let answer = |outcome: &Effects| {
        let written = WrittenAnswer::of(outcome, &known);
        created(&UndoneAnswer { version: outcome.version, written })
    };
    let asked = once.asked(&caller, api.now());
    let done = api.store.change(&asked, &Change::Undo { deed }, answer).await;
    let own = deed.to_string();
    Ok(once::reply(&done.map_err(|error| refusal(error, Some(("deed", &own))))?))
}
