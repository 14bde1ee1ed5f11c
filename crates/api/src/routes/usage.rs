//! What jobs take, as learned.

use axum::Json;
use axum::extract::State;
use capful_forecast::plan::UsageRow;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, WhichPlan};
use crate::plans;
use crate::problem::Problem;

/// What jobs take.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct UsageList {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// A row for each job type and product, at sizes and conditions.
    pub items: Vec<UsageRow>,
}

/// What jobs take of each product, as learned
#[utoipa::path(
    get,
    path = "/api/v1/usage",
    tag = "plan",
    params(WhichPlan),
    responses((status = 200, description = "The plan's `usage`", body = UsageList))
)]
pub(crate) async fn get_usage(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPlan>,
) -> Result<Json<UsageList>, Problem> {
    let plan = plans::planned(&api, &caller, which).await?;
    Ok(Json(UsageList { as_of: plan.as_of, items: plan.usage.clone() }))
}
