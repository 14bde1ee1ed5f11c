//! Job types: what the shop sells, and what its owner expects each to take.

use axum::Json;
use axum::extract::State;
use capful_domain::{Currency, JobType, SheetRow};
use capful_forecast::plan::AmountIn;
use capful_store::Versioned;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, Page, WhichPage};
use crate::params::Params;
use crate::problem::Problem;
use crate::wire;

/// A service that the shop sells.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobTypeRow {
    /// The shop's own id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// What the shop asks for it.
    pub price: Option<String>,
    /// What one stalled job of it costs.
    pub stall_cost: Option<String>,
    /// Some of its jobs come back after so many days.
    pub return_days: Option<u32>,
    /// This share of them.
    pub return_share: Option<f64>,
    /// For this job type; none: for the same.
    pub return_job_type: Option<String>,
    /// What it is expected to take, at medium size and condition 3.
    pub usage_sheet: Vec<SheetRowOut>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

/// What a job type is expected to take of a product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct SheetRowOut {
    /// The product.
    pub product: String,
    /// How much, when it is used; of the mix where `water` is given.
    pub quantity: AmountIn,
    /// Parts of water to one part of product.
    pub water: Option<f64>,
    /// How often it is used at all; none: always.
    pub share_of_jobs: Option<f64>,
    /// How sure the owner is: standard deviation of the logarithm.
    pub log_sd: Option<f64>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl SheetRowOut {
    fn of(listed: &Versioned<SheetRow>) -> Self {
        let row = &listed.row;
        let (amount, unit) = (wire::number(row.amount.number), row.amount.unit.symbol());
        Self {
            product: row.product.to_string(),
            quantity: AmountIn { amount, unit },
            water: row.ratio.map(|ratio| wire::number(ratio.water())),
            share_of_jobs: row.share_of_jobs.map(wire::number),
            log_sd: row.log_sd.map(wire::number),
            version: listed.place.version,
        }
    }
}

impl JobTypeRow {
    fn of(listed: &Versioned<JobType>, sheet: &[Versioned<SheetRow>], currency: Currency) -> Self {
        let row = &listed.row;
        let back = row.comes_back.as_ref();
        let own = sheet.iter().filter(|sheet| sheet.row.job_type == row.id);
        Self {
            id: row.id.to_string(),
            name: row.name.clone(),
            price: row.price.map(|price| wire::money(price, currency)),
            stall_cost: row.stall_cost.map(|cost| wire::money(cost, currency)),
            return_days: back.map(|back| back.days),
            return_share: back.map(|back| wire::number(back.share)),
            return_job_type: back.and_then(|back| wire::text(back.job_type.as_ref())),
            usage_sheet: own.map(SheetRowOut::of).collect(),
            version: listed.place.version,
        }
    }
}

/// Job types in the order they were set up, each with its usage sheet
#[utoipa::path(
    get,
    path = "/api/v1/job-types",
    tag = "setup",
    params(WhichPage),
    responses((status = 200, description = "A page of job types", body = Page<JobTypeRow>))
)]
pub(crate) async fn list_job_types(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPage>,
) -> Result<Json<Page<JobTypeRow>>, Problem> {
    let currency = api.store.shop(caller.shop).await?.row.currency;
    let sheet = page::whole::<SheetRow>(&api, &caller).await?;
    let row = |listed: Versioned<JobType>| Some(JobTypeRow::of(&listed, &sheet, currency));
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}
