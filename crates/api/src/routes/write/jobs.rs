//! Jobs: booked, changed, begun, called off, finished.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::{ExpectedPour, Id, Job, JobStatus};
use capful_store::{Answer, Answered, Change, Effects, StoreError, Versioned, WriteContext};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use super::answer::{WrittenAnswer, created};
use crate::api::Api;
use crate::auth::Caller;
use crate::known::{Known, known};
use crate::once::{self, Once};
use crate::path::Named;
use crate::problem::{Kind, Problem};
use crate::routes::jobs::JobRow;
use crate::schema;
use crate::written::{FinishBody, Finishing, JobBody, JobChangeBody, Reader, WhenBody, refusal};

/// How often a job is looked at again where somebody else was faster, before whoever asks is told
/// to ask again later.
const TRIES: u32 = 10;

/// A job is booked
#[utoipa::path(
    post,
    path = "/api/v1/jobs",
    tag = "jobs",
    params(once::Headers),
    request_body = JobBody,
    responses((status = 201, description = "The job", body = JobRow))
)]
pub(crate) async fn book(
    State(api): State<Api>,
    caller: Caller,
    once: Once<JobBody>,
) -> Result<Response, Problem> {
    let known = known(&api, &caller).await?;
    let asked = once.asked(&caller, api.now());
    let mut reader = Reader::new(&api, &known, asked.now);
    let job = once.body.read(&mut reader);
    let job = reader.end(job)?;
    let answer = |outcome: &Effects| created(&row(&job, &known, outcome));
    let done = api.store.change(&asked, &Change::Book(job.clone()), answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, None))?))
}

/// What changes of a job; what is not given stays
#[utoipa::path(
    patch,
    path = "/api/v1/jobs/{id}",
    tag = "jobs",
    params(("id" = schema::Id, Path, description = "The job's id"), once::EditHeaders),
    request_body = JobChangeBody,
    responses((status = 200, description = "The job", body = JobRow))
)]
pub(crate) async fn change(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<JobChangeBody>,
) -> Result<Response, Problem> {
    once.must_name_version()?;
    let known = known(&api, &caller).await?;
    let asked = once.asked(&caller, api.now());
    let before = api.store.get::<Job>(caller.shop, id.as_str()).await?.row;
    let mut reader = Reader::new(&api, &known, asked.now);
    let job = once.body.read(&mut reader, before);
    let job = reader.end(job)?;
    let answer = |outcome: &Effects| once::answer(StatusCode::OK, &row(&job, &known, outcome));
    let done = api.store.change(&asked, &Change::ChangeJob(job.clone()), answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, Some(("job", id.as_str()))))?))
}

/// Work on a job began
#[utoipa::path(
    post,
    path = "/api/v1/jobs/{id}/start",
    tag = "jobs",
    params(("id" = schema::Id, Path, description = "The job's id"), once::MoveHeaders),
    request_body = Option<WhenBody>,
    responses((status = 200, description = "The job", body = JobRow))
)]
pub(crate) async fn start(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<Option<WhenBody>>,
) -> Result<Response, Problem> {
    moved(&api, &caller, &id, &once, |job, at| {
        let after = Job { status: JobStatus::Started, started_at: Some(at), ..job };
        (Change::StartJob { job: after.id.clone(), at }, after)
    })
    .await
}

/// A job is called off
#[utoipa::path(
    post,
    path = "/api/v1/jobs/{id}/cancel",
    tag = "jobs",
    params(("id" = schema::Id, Path, description = "The job's id"), once::MoveHeaders),
    request_body = Option<WhenBody>,
    responses((status = 200, description = "The job", body = JobRow))
)]
pub(crate) async fn cancel(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<Option<WhenBody>>,
) -> Result<Response, Problem> {
    moved(&api, &caller, &id, &once, |job, at| {
        let after = Job { status: JobStatus::Cancelled, cancelled_at: Some(at), ..job };
        (Change::CancelJob { job: after.id.clone(), at }, after)
    })
    .await
}

/// A finished job, and what it took.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct FinishAnswer {
    /// The job.
    pub job: JobRow,
    /// What was deducted from where, what is left there, and what wants a look.
    #[serde(flatten)]
    pub written: WrittenAnswer,
}

/// Work on a job ended: what it took is deducted
///
/// With no body, or without pours, it took what it is expected to; what is not listed in `pours` is
/// expected too, unless `rest` says `none`. What was poured for it before counts.
#[utoipa::path(
    post,
    path = "/api/v1/jobs/{id}/finish",
    tag = "jobs",
    params(("id" = schema::Id, Path, description = "The job's id"), once::MoveHeaders),
    request_body = Option<FinishBody>,
    responses((status = 200, description = "What it took", body = FinishAnswer))
)]
pub(crate) async fn finish(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<Option<FinishBody>>,
) -> Result<Response, Problem> {
    let nothing = FinishBody::default();
    let body = once.body.as_ref().unwrap_or(&nothing);
    let known = known(&api, &caller).await?;
    let asked = once.asked(&caller, api.now());
    let ending = Ending { caller: &caller, known: &known, id: &id, body };
    let done = ending.end(&api, &asked, |after, outcome| {
        let (job, written) = (row(after, &known, outcome), WrittenAnswer::of(outcome, &known));
        once::answer(StatusCode::OK, &FinishAnswer { job, written })
    });
    Ok(once::reply(&done.await?))
}

/// The end of a job, as somebody tells it.
pub(crate) struct Ending<'e> {
    pub caller: &'e Caller,
    pub known: &'e Known,
    pub id: &'e Id,
    pub body: &'e FinishBody,
}

impl Ending<'_> {
    /// Ends the job. Where the caller has not said of which version, it is looked at again for as
    /// long as others are faster.
    ///
    /// # Errors
    /// [`Problem`] where the body is wrong or the store refuses it.
    pub(crate) async fn end(
        &self,
        api: &Api,
        asked: &WriteContext,
        answer: impl Fn(&Job, &Effects) -> Answer + Send + Sync,
    ) -> Result<Answered<Effects>, Problem> {
        let Self { caller, known, id, body } = *self;
        for _ in 0..TRIES {
            let listed = api.store.get::<Job>(caller.shop, id.as_str()).await?;
            let mut reader = Reader::new(api, known, asked.now);
            let finishing = body.read(&mut reader, &listed.row);
            let finishing = reader.end(finishing)?;
            let after = finishing.ended(&listed.row);
            let rest = rest_of(api, caller, known, &finishing, &after).await?;
            let mut reader = Reader::new(api, known, asked.now);
            let finish = finishing.with(listed.clone(), rest, &mut reader);
            let change = Change::FinishJob(finish);
            let answer = |outcome: &Effects| answer(&after, outcome);
            let of_version = of_version(asked, &listed);
            let done = api.store.change(&of_version, &change, answer).await;
            if let Some(done) = settled(done, id, asked.if_match.is_none())? {
                return Ok(done);
            }
        }
        Err(busy(id))
    }
}

/// What a job is taken to have used of that which was not measured. What was poured for it before
/// is left out by the store, or here where the rest is to be written down as nothing.
async fn rest_of(
    api: &Api,
    caller: &Caller,
    known: &Known,
    finishing: &Finishing,
    job: &Job,
) -> Result<Vec<ExpectedPour>, Problem> {
    let mut rest = known.expected_for(api, caller, job).await?;
    rest.retain(|pour| !finishing.measured(&pour.product));
    if finishing.rest_is_nothing() && !rest.is_empty() {
        let poured = api.store.poured_for(caller.shop, &job.id).await?;
        rest.retain(|pour| !poured.contains(&pour.product));
    }
    Ok(rest)
}

/// Moves a job on in its life, with a body that says no more than when.
async fn moved(
    api: &Api,
    caller: &Caller,
    id: &Id,
    once: &Once<Option<WhenBody>>,
    plan: impl Fn(Job, DateTime<Utc>) -> (Change, Job),
) -> Result<Response, Problem> {
    let known = known(api, caller).await?;
    let asked = once.asked(caller, api.now());
    let mut reader = Reader::new(api, &known, asked.now);
    let at = reader.time("at", once.body.as_ref().and_then(|body| body.at.as_ref()));
    let at = reader.end(at)?;
    for _ in 0..TRIES {
        let listed = api.store.get::<Job>(caller.shop, id.as_str()).await?;
        let asked = of_version(&asked, &listed);
        let (change, after) = plan(listed.row, at);
        let answer =
            |outcome: &Effects| once::answer(StatusCode::OK, &row(&after, &known, outcome));
        let done = api.store.change(&asked, &change, answer).await;
        if let Some(done) = settled(done, id, once.version.is_none())? {
            return Ok(once::reply(&done));
        }
    }
    Err(busy(id))
}

/// The request, held to the job as it was read where the caller names no version of it.
fn of_version(asked: &WriteContext, read: &Versioned<Job>) -> WriteContext {
    WriteContext { if_match: asked.if_match.or(Some(read.place.version)), ..asked.clone() }
}

/// What became of it; nothing where somebody else was faster and the job can be looked at again.
fn settled(
    done: Result<Answered<Effects>, StoreError>,
    job: &Id,
    again: bool,
) -> Result<Option<Answered<Effects>>, Problem> {
    match done {
        Err(StoreError::Stale { .. }) if again => Ok(None),
        Err(error) => Err(refusal(error, Some(("job", job.as_str())))),
        Ok(done) => Ok(Some(done)),
    }
}

fn busy(job: &Id) -> Problem {
    let detail = format!(
        "job {job} is being changed by others, and nothing was changed by this \
                          request: asking again in a moment with the same idempotency key is safe"
    );
    Problem::new(Kind::Busy, detail)
}

fn row(job: &Job, known: &Known, outcome: &Effects) -> JobRow {
    JobRow::of(job, known.shop.currency, outcome.version.unwrap_or_default())
}
