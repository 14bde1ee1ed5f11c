//! Trace: from a lot to every job and vehicle that it went on, and back.

use axum::Json;
use axum::extract::State;
use capful_domain::trace::{self, LotTrace};
use capful_domain::{Id, Quantity, Snapshot};
use capful_forecast::plan::AmountIn;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, When};
use crate::path::{Named, NamedText};
use crate::problem::Problem;
use crate::schema;
use crate::view;
use crate::wire;

/// Where the lots of a batch code went.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct LotTraceAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// One for each product that has a lot of that code.
    pub items: Vec<LotTraceRow>,
}

/// Where one lot went.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct LotTraceRow {
    /// Its batch code, else the row that brought it.
    pub lot: String,
    /// The product.
    pub product: String,
    /// Its containers.
    pub containers: Vec<String>,
    /// What is left of it.
    pub left: Option<AmountIn>,
    /// The jobs that it went on, in the order of the pours.
    pub uses: Vec<LotUseRow>,
}

/// What of a lot went on one job.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct LotUseRow {
    /// The job.
    pub job: String,
    /// The vehicle.
    pub vehicle: Option<String>,
    /// Out of which container.
    pub container: String,
    /// How much.
    pub quantity: Option<AmountIn>,
}

/// Every job and vehicle that a lot went on
#[utoipa::path(
    get,
    path = "/api/v1/trace/lots/{lot}",
    tag = "trace",
    params(
        ("lot" = schema::Lot, Path, description = "The batch code, or the row that brought it"),
        When
    ),
    responses((status = 200, description = "Where it went", body = LotTraceAnswer))
)]
pub(crate) async fn trace_lot(
    State(api): State<Api>,
    caller: Caller,
    NamedText(lot): NamedText,
    Params(when): Params<When>,
) -> Result<Json<LotTraceAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let traces = trace::trace_lot(&snapshot, &ledger, &lot);
    if traces.is_empty() {
        return Err(Problem::not_found("lot", &lot));
    }
    let row = |trace: LotTrace| LotTraceRow {
        left: amount(&snapshot, &trace.product, trace.left),
        uses: trace
            .uses
            .iter()
            .map(|own| LotUseRow {
                job: own.job.to_string(),
                vehicle: own.vehicle.clone(),
                container: own.container.to_string(),
                quantity: amount(&snapshot, &trace.product, own.quantity),
            })
            .collect(),
        containers: trace.containers.iter().map(ToString::to_string).collect(),
        product: trace.product.to_string(),
        lot: trace.lot,
    };
    let items = traces.into_iter().map(row).collect();
    Ok(Json(LotTraceAnswer { as_of: snapshot.day, items }))
}

fn amount(snapshot: &Snapshot, product: &Id, quantity: Quantity) -> Option<AmountIn> {
    let product = snapshot.facts.products.iter().find(|own| own.id == *product)?;
    Some(wire::amount(product, quantity))
}

/// What went on a job.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobTraceAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// The job.
    pub job: String,
    /// The vehicle.
    pub vehicle: Option<String>,
    /// Every lot that went on it, in the order of the pours.
    pub items: Vec<JobTraceRow>,
}

/// What of one lot went on a job.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobTraceRow {
    /// The product.
    pub product: String,
    /// The lot's batch code, else the row that brought it.
    pub lot: String,
    /// Out of which container.
    pub container: String,
    /// How much.
    pub quantity: Option<AmountIn>,
}

/// Every lot that went on a job
#[utoipa::path(
    get,
    path = "/api/v1/trace/jobs/{id}",
    tag = "trace",
    params(("id" = schema::Id, Path, description = "The job's id"), When),
    responses((status = 200, description = "What went on it", body = JobTraceAnswer))
)]
pub(crate) async fn trace_job(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    Params(when): Params<When>,
) -> Result<Json<JobTraceAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let job = snapshot.facts.jobs.iter().find(|job| job.id == id);
    let job = job.ok_or_else(|| Problem::not_found("job", id.as_str()))?;
    let row = |own: trace::JobTrace| JobTraceRow {
        quantity: amount(&snapshot, &own.product, own.quantity),
        product: own.product.to_string(),
        lot: own.lot,
        container: own.container.to_string(),
    };
    Ok(Json(JobTraceAnswer {
        as_of: snapshot.day,
        job: id.to_string(),
        vehicle: job.vehicle.clone(),
        items: trace::trace_job(&ledger, &id).into_iter().map(row).collect(),
    }))
}
