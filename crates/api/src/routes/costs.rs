//! Costs: what jobs took at the cost of the lots that it came from, and what was thrown away.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use capful_domain::costs::{self, JobLine};
use capful_domain::facts::Method;
use capful_domain::{Id, Money, Product, Snapshot};
use capful_forecast::plan::AmountIn;
use chrono::{Datelike, NaiveDate};
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, When};
use crate::path::Named;
use crate::problem::Problem;
use crate::schema;
use crate::view;
use crate::wire;

/// What one job cost in product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobCostAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: &'static str,
    /// The job.
    pub job: String,
    /// What was asked for it.
    pub price: Option<String>,
    /// What it took, in the order it was poured.
    pub lines: Vec<JobCostLine>,
    /// What that cost.
    pub total: String,
}

/// What a job took out of one container.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobCostLine {
    /// The product.
    pub product: String,
    /// The container.
    pub container: String,
    /// How much.
    pub quantity: AmountIn,
    /// What that cost.
    pub cost: String,
    /// Whether nobody measured it: it is what such a job is taken to use.
    pub expected: bool,
}

/// What one job cost in product
#[utoipa::path(
    get,
    path = "/api/v1/costs/jobs/{id}",
    tag = "costs",
    params(("id" = schema::Id, Path, description = "The job's id"), When),
    responses((status = 200, description = "What it cost", body = JobCostAnswer))
)]
pub(crate) async fn job_cost(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    Params(when): Params<When>,
) -> Result<Json<JobCostAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let job = snapshot.facts.jobs.iter().find(|job| job.id == id);
    let job = job.ok_or_else(|| Problem::not_found("job", id.as_str()))?;
    let currency = snapshot.facts.shop.currency;
    let products = by_id(&snapshot);
    let cost = costs::job_cost(&ledger, &id);
    let line = |line: &JobLine| {
        Some(JobCostLine {
            product: line.product.to_string(),
            container: line.container.to_string(),
            quantity: wire::amount(products.get(&line.product)?, line.quantity),
            cost: wire::money(line.cost, currency),
            expected: line.expected || is_expected(&snapshot, &id, &line.product),
        })
    };
    Ok(Json(JobCostAnswer {
        as_of: snapshot.day,
        currency: currency.code(),
        job: id.to_string(),
        price: job.price.map(|price| wire::money(price, currency)),
        lines: cost.lines.iter().filter_map(line).collect(),
        total: wire::money(cost.total, currency),
    }))
}

/// Whether a job's pours of a product were all written down as expected.
pub(crate) fn is_expected(snapshot: &Snapshot, job: &Id, product: &Id) -> bool {
    let pours = snapshot.facts.pours.iter();
    let mut own = pours.filter(|p| p.job.as_ref() == Some(job) && p.product == *product).peekable();
    own.peek().is_some() && own.all(|pour| pour.method == Some(Method::Expected))
}

fn by_id(snapshot: &Snapshot) -> BTreeMap<&Id, &Product> {
    snapshot.facts.products.iter().map(|product| (&product.id, product)).collect()
}

/// What the done jobs of each job type cost in product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobTypeCostsAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: &'static str,
    /// Job types of which a job was done.
    pub items: Vec<JobTypeCostRow>,
}

/// What the done jobs of one job type cost in product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobTypeCostRow {
    /// The job type.
    pub job_type: String,
    /// Done jobs of it.
    pub jobs: u32,
    /// What they cost together; a job of several types is shared among them by their sheets.
    pub total: String,
    /// What one of them cost on average.
    pub mean: String,
    /// What the shop asks for one.
    pub price: Option<String>,
}

/// What the done jobs of each job type cost in product
#[utoipa::path(
    get,
    path = "/api/v1/costs/job-types",
    tag = "costs",
    params(When),
    responses((status = 200, description = "What they cost", body = JobTypeCostsAnswer))
)]
pub(crate) async fn job_type_costs(
    State(api): State<Api>,
    caller: Caller,
    Params(when): Params<When>,
) -> Result<Json<JobTypeCostsAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let costs = costs::job_type_costs(&snapshot, &ledger);
    let currency = snapshot.facts.shop.currency.code();
    let items = costs.iter().map(|cost| JobTypeCostRow::of(cost, &snapshot)).collect();
    Ok(Json(JobTypeCostsAnswer { as_of: snapshot.day, currency, items }))
}

impl JobTypeCostRow {
    fn of(cost: &costs::JobTypeCost, snapshot: &Snapshot) -> Self {
        let currency = snapshot.facts.shop.currency;
        let mut types = snapshot.facts.job_types.iter();
        let price = types.find(|t| t.id == cost.job_type).and_then(|job_type| job_type.price);
        Self {
            job_type: cost.job_type.to_string(),
            jobs: cost.jobs,
            total: wire::money(cost.total, currency),
            mean: wire::money(cost.mean, currency),
            price: price.map(|price| wire::money(price, currency)),
        }
    }
}

/// What was thrown away, by month.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct WasteAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: &'static str,
    /// Months in which something was thrown away, the first of them first.
    pub months: Vec<WasteMonth>,
    /// What it cost in all.
    pub total: String,
}

/// What was thrown away in one month.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct WasteMonth {
    /// The month.
    #[schema(example = "2026-03")]
    pub month: String,
    /// What was thrown away of each product.
    pub products: Vec<WasteRow>,
    /// What that cost.
    pub total: String,
}

/// What was thrown away of one product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct WasteRow {
    /// The product.
    pub product: String,
    /// How much.
    pub quantity: AmountIn,
    /// What that cost.
    pub cost: String,
}

/// What was thrown away, by month and product
#[utoipa::path(
    get,
    path = "/api/v1/costs/waste",
    tag = "costs",
    params(When),
    responses((status = 200, description = "What was thrown away", body = WasteAnswer))
)]
pub(crate) async fn waste(
    State(api): State<Api>,
    caller: Caller,
    Params(when): Params<When>,
) -> Result<Json<WasteAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let currency = snapshot.facts.shop.currency;
    let mut by_month: BTreeMap<NaiveDate, Vec<costs::Waste>> = BTreeMap::new();
    for waste in costs::waste_by_month(&snapshot, &ledger) {
        by_month.entry(waste.month).or_default().push(waste);
    }
    let months = by_month.iter().map(|(month, rows)| WasteMonth::of(*month, rows, &snapshot));
    Ok(Json(WasteAnswer {
        as_of: snapshot.day,
        currency: currency.code(),
        months: months.collect(),
        total: wire::money(by_month.values().map(|rows| sum(rows)).sum(), currency),
    }))
}

fn sum(rows: &[costs::Waste]) -> Money {
    rows.iter().map(|waste| waste.cost).sum()
}

impl WasteMonth {
    fn of(month: NaiveDate, rows: &[costs::Waste], snapshot: &Snapshot) -> Self {
        let (currency, products) = (snapshot.facts.shop.currency, by_id(snapshot));
        let row = |waste: &costs::Waste| {
            Some(WasteRow {
                product: waste.product.to_string(),
                quantity: wire::amount(products.get(&waste.product)?, waste.quantity),
                cost: wire::money(waste.cost, currency),
            })
        };
        Self {
            month: month.format("%Y-%m").to_string(),
            products: rows.iter().filter_map(row).collect(),
            total: wire::money(sum(rows), currency),
        }
    }
}

/// What the work costs in product, on one page.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct CostsAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: &'static str,
    /// What the done jobs of each job type cost; those of which none was done are left out.
    pub job_types: Vec<JobTypeCostRow>,
    /// What all these jobs cost together.
    pub total: String,
    /// What was thrown away in the month of that day.
    pub waste: WasteMonth,
}

/// What done jobs cost in product, by job type, and what was thrown away this month
///
/// `/costs/jobs/{id}` has one job, `/costs/waste` the other months.
#[utoipa::path(
    get,
    path = "/api/v1/costs",
    tag = "costs",
    params(When),
    responses((status = 200, description = "What it costs", body = CostsAnswer))
)]
pub(crate) async fn costs(
    State(api): State<Api>,
    caller: Caller,
    Params(when): Params<When>,
) -> Result<Json<CostsAnswer>, Problem> {
    let (snapshot, ledger) = view::books(&api, &caller, when.as_of).await?;
    let currency = snapshot.facts.shop.currency;
    let job_types = costs::job_type_costs(&snapshot, &ledger);
    let month = snapshot.day.with_day(1).unwrap_or(snapshot.day);
    let mut waste = costs::waste_by_month(&snapshot, &ledger);
    waste.retain(|waste| waste.month == month);
    Ok(Json(CostsAnswer {
        as_of: snapshot.day,
        currency: currency.code(),
        total: wire::money(job_types.iter().map(|cost| cost.total).sum(), currency),
        job_types: job_types.iter().map(|cost| JobTypeCostRow::of(cost, &snapshot)).collect(),
        waste: WasteMonth::of(month, &waste, &snapshot),
    }))
}
