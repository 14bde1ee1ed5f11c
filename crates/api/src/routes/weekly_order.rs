//! The weekly order: what to buy this week.

use axum::Json;
use axum::extract::State;
use capful_forecast::plan::WeeklyOrder;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, WhichPlan};
use crate::plans;
use crate::problem::Problem;

/// What to buy this week.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct WeeklyOrderAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: String,
    /// The plan's weekly order.
    #[serde(flatten)]
    pub weekly_order: WeeklyOrder,
}

/// What to buy this week, by supplier, each line with its reason
#[utoipa::path(
    get,
    path = "/api/v1/weekly-order",
    tag = "plan",
    params(WhichPlan),
    responses((status = 200, description = "The plan's weekly order", body = WeeklyOrderAnswer))
)]
pub(crate) async fn get_weekly_order(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPlan>,
) -> Result<Json<WeeklyOrderAnswer>, Problem> {
    let plan = plans::planned(&api, &caller, which).await?;
    Ok(Json(WeeklyOrderAnswer {
        as_of: plan.as_of,
        currency: plan.currency.clone(),
        weekly_order: plan.weekly_order.clone(),
    }))
}
