//! Jobs: one vehicle's visit each.

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use capful_domain::{AsOf, Currency, Facts, Job, JobStatus, Shop, Snapshot, Word};
use capful_store::{MovementFilter, Versioned};
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::api::Api;
use crate::auth::Caller;
use crate::etag;
use crate::page::{self, Cursor, Limit, Page};
use crate::params::{Params, When, day, moment, parsed, word};
use crate::path::Named;
use crate::problem::Problem;
use crate::routes::movements::MovementRow;
use crate::schema;
use crate::view;
use crate::wire;

/// One vehicle's visit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobRow {
    /// The shop's own id.
    #[schema(example = "J-2041")]
    pub id: String,
    /// When the booking was made.
    pub booked_at: DateTime<Utc>,
    /// The day the vehicle comes.
    pub planned_on: NaiveDate,
    /// `booked`, `started`, `done` or `cancelled`.
    pub status: &'static str,
    /// What is to be done.
    pub job_types: Vec<String>,
    /// `small`, `medium`, `large` or `oversize`.
    pub size: &'static str,
    /// 1 (well kept) to 5 (neglected).
    pub condition: u8,
    /// When work began.
    pub started_at: Option<DateTime<Utc>>,
    /// When work ended.
    pub finished_at: Option<DateTime<Utc>>,
    /// When it was called off.
    pub cancelled_at: Option<DateTime<Utc>>,
    /// Which vehicle.
    pub vehicle: Option<String>,
    /// What was asked for it.
    pub price: Option<String>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl JobRow {
    pub(crate) fn of(job: &Job, currency: Currency, version: i64) -> Self {
        Self {
            id: job.id.to_string(),
            booked_at: job.booked_at,
            planned_on: job.planned_on,
            status: job.status.word(),
            job_types: wire::texts(&job.job_types),
            size: job.size.word(),
            condition: job.condition.grade(),
            started_at: job.started_at,
            finished_at: job.finished_at,
            cancelled_at: job.cancelled_at,
            vehicle: job.vehicle.clone(),
            price: job.price.map(|price| wire::money(price, currency)),
            version,
        }
    }
}

/// Which jobs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichJobs {
    /// As they stood then: a day, or a time. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// Only those that are `booked`, `started`, `done` or `cancelled`.
    #[serde(default, deserialize_with = "word")]
    #[param(value_type = schema::AskedJobStatus, required = false)]
    pub status: Option<JobStatus>,
    /// Planned on this day or later.
    #[serde(default, deserialize_with = "day")]
    #[param(value_type = schema::AskedDay, required = false)]
    pub from: Option<NaiveDate>,
    /// Planned before this day.
    #[serde(default, deserialize_with = "day")]
    #[param(value_type = schema::AskedDay, required = false)]
    pub to: Option<NaiveDate>,
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedCursor, required = false)]
    pub after: Option<Cursor>,
}

impl WhichJobs {
    fn has(&self, job: &Job) -> bool {
        self.status.is_none_or(|status| job.status == status)
            && self.from.is_none_or(|from| job.planned_on >= from)
            && self.to.is_none_or(|to| job.planned_on < to)
    }
}

/// Jobs in the order they were written down
#[utoipa::path(
    get,
    path = "/api/v1/jobs",
    tag = "jobs",
    params(WhichJobs),
    responses((status = 200, description = "A page of jobs", body = Page<JobRow>))
)]
pub(crate) async fn list_jobs(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichJobs>,
) -> Result<Json<Page<JobRow>>, Problem> {
    let shop = api.store.shop(caller.shop).await?.row;
    let at = moment(which.as_of, &shop).unwrap_or_else(|| api.now());
    let row = |listed: Versioned<Job>| {
        let job = as_it_stood(listed.row, &shop, at).filter(|job| which.has(job))?;
        Some(JobRow::of(&job, shop.currency, listed.place.version))
    };
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}

/// A job at a moment; nothing before it was booked.
fn as_it_stood(job: Job, shop: &Shop, at: DateTime<Utc>) -> Option<Job> {
    let facts = Facts { jobs: vec![job], ..Facts::new(shop.clone()) };
    Snapshot::of(&facts, at).facts.jobs.pop()
}

/// A job and what was posted for it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct JobAnswer {
    /// The job.
    #[serde(flatten)]
    pub job: JobRow,
    /// What was posted for it until then.
    pub movements: Vec<MovementRow>,
}

/// A job and what was posted for it
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{id}",
    tag = "jobs",
    params(("id" = schema::Id, Path, description = "The job's id"), When),
    responses(
        (status = 200, description = "The job", body = JobAnswer,
            headers(("ETag" = String, description = "What an edit names as `If-Match`")))
    )
)]
pub(crate) async fn get_job(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    Params(when): Params<When>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<JobAnswer>), Problem> {
    let listed = api.store.get::<Job>(caller.shop, id.as_str()).await?;
    let (shop, products) = view::catalog(&api, &caller).await?;
    let at = moment(when.as_of, &shop).unwrap_or_else(|| api.now());
    let version = listed.place.version;
    let job = as_it_stood(listed.row, &shop, at);
    let job = job.ok_or_else(|| Problem::not_found("job", id.as_str()))?;
    let posted = api.store.movements(caller.shop, &MovementFilter::Job(id)).await?;
    let until = posted.iter().filter(|posted| posted.movement.at <= at);
    let movements = until.filter_map(|posted| MovementRow::of(posted, &products)).collect();
    let answer = JobAnswer { job: JobRow::of(&job, shop.currency, version), movements };
    Ok(([(header::ETAG, etag::tag(version))], Json(answer)))
}
