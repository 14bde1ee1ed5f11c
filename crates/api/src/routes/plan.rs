//! The plan: everything advised at a moment.

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use capful_forecast::{Plan, to_json};

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, WhichPlan};
use crate::plans;
use crate::problem::Problem;

/// Everything advised at a moment, the same bytes as `capful plan --json`
#[utoipa::path(
    get,
    path = "/api/v1/plan",
    tag = "plan",
    params(WhichPlan),
    responses((status = 200, description = "The plan", body = Plan))
)]
pub(crate) async fn get_plan(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPlan>,
) -> Result<impl IntoResponse, Problem> {
    let plan = plans::planned(&api, &caller, which).await?;
    let text = to_json(&*plan).map_err(|error| Problem::internal(&error))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text))
}
