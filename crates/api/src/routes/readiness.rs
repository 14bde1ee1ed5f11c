//! Whether the shelf carries the booked jobs.

use axum::Json;
use axum::extract::State;
use capful_forecast::plan::JobReadiness;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, WhichPlan};
use crate::plans;
use crate::problem::Problem;

/// Which jobs the shelf carries.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct ReadinessList {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// Each booked job, by its day.
    pub items: Vec<JobReadiness>,
}

/// The chance that the shelf carries each booked job, what it may lack, and what to set out
#[utoipa::path(
    get,
    path = "/api/v1/readiness",
    tag = "plan",
    params(WhichPlan),
    responses((status = 200, description = "The plan's `readiness`", body = ReadinessList))
)]
pub(crate) async fn get_readiness(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPlan>,
) -> Result<Json<ReadinessList>, Problem> {
    let plan = plans::planned(&api, &caller, which).await?;
    Ok(Json(ReadinessList { as_of: plan.as_of, items: plan.readiness.clone() }))
}
