//! Undo: what was done is taken back by new movements, for as long as it makes sense.

use axum::extract::{Path, State};
use axum::response::Response;
use capful_store::Change;
use uuid::Uuid;

use super::form::Form;
use super::shown::{lead_to, led};
use crate::api::Api;
use crate::problem::Problem;

/// `POST /undo/{deed}`
pub(crate) async fn post(
    State(api): State<Api>,
    Path(deed): Path<String>,
    form: Form,
) -> Result<Response, Problem> {
    let deed: Uuid = deed.parse().map_err(|_| Problem::not_found("deed", &deed))?;
    let then = form.fields.text("then").unwrap_or("/").to_owned();
    let then = if then.starts_with('/') && !then.starts_with("//") { then } else { "/".to_owned() };
    let answer = |outcome: &capful_store::Outcome| lead_to(&then, outcome);
    let done = api.store.change(&form.asked(&api), &Change::Undo { deed }, answer).await?;
    Ok(led(&done))
}
