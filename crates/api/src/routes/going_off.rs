//! Containers near their use-by.

use axum::Json;
use axum::extract::State;
use capful_forecast::plan::GoingOff;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, WhichPlan};
use crate::plans;
use crate::problem::Problem;

/// What goes off.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct GoingOffList {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// Containers near their use-by, or that will not be finished before it; soonest first.
    pub items: Vec<GoingOff>,
}

/// Containers near their use-by, or that will not be finished before it
#[utoipa::path(
    get,
    path = "/api/v1/going-off",
    tag = "plan",
    params(WhichPlan),
    responses((status = 200, description = "The plan's `going_off`", body = GoingOffList))
)]
pub(crate) async fn get_going_off(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPlan>,
) -> Result<Json<GoingOffList>, Problem> {
    let plan = plans::planned(&api, &caller, which).await?;
    Ok(Json(GoingOffList { as_of: plan.as_of, items: plan.going_off.clone() }))
}
