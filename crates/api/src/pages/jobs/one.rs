//! A job: what it is and how far it has come, whether the shelf carries it, and once it is done
//! what it took.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::{Id, Job, JobStatus};
use capful_store::Versioned;

use super::after::Took;
use super::fields::{JobFields, filled_in};
use super::lacks::Lacks;
use super::{shape, status, what};
use crate::api::Api;
use crate::known::{Known, known};
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Measures, Place, day_name};
use crate::pages::names::job_name;
use crate::pages::say::words;
use crate::pages::shown::page_of;
use crate::pages::today::{JobCard, View};
use crate::pages::visitor::Visitor;
use crate::params::WhichPlan;
use crate::path::{Named, segment};
use crate::plans;
use crate::problem::{Kind, Problem};
use crate::view;

#[derive(Template)]
#[template(path = "job.html")]
struct JobPage {
    frame: Frame,
    id: String,
    name: String,
    what: String,
    shape: String,
    day: String,
    status: String,
    price: Option<String>,
    version: i64,
    is_booked: bool,
    is_open: bool,
    is_done: bool,
    /// Whether it names a vehicle.
    names_vehicle: bool,
    /// Where the same vehicle is booked again.
    again: String,
    /// Whether the shelf carries it, where it is still to be done.
    ready: Option<JobCard>,
    /// Why it may not, in amounts.
    lacks: Option<Lacks>,
    /// What it took, where it is done.
    took: Option<Took>,
    job: JobFields,
    /// Products, to pour something of.
    products: Vec<(String, String)>,
    pour: Fields,
    wrong: Option<Problem>,
    /// Whether what was sent has to be looked at again.
    is_stale: bool,
}

/// A form of the page that was sent and is shown again.
#[derive(Default)]
pub(crate) struct Sent {
    /// What was typed of the job.
    pub job: Option<Fields>,
    /// What was typed of a pour.
    pub pour: Option<Fields>,
    /// What is wrong.
    pub wrong: Option<Problem>,
}

/// `GET /jobs/{id}`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    Named(id): Named,
) -> Result<Response, Problem> {
    shown(&api, &visitor, &id, Sent::default()).await
}

/// The page of a job, with a form as it was sent.
///
/// # Errors
/// [`Problem`] where there is no such job or the store does not answer.
pub(crate) async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: &Id,
    sent: Sent,
) -> Result<Response, Problem> {
    let caller = &visitor.caller;
    let known = known(api, caller).await?;
    let listed = api.store.get::<Job>(caller.shop, id.as_str()).await?;
    let job = &listed.row;
    let is_open = matches!(job.status, JobStatus::Booked | JobStatus::Started);
    let (ready, lacks) = match is_open {
        true => Some(card(api, visitor, job).await?).unzip(),
        false => (None, None),
    };
    let took = match job.status {
        JobStatus::Done => Some(Took::of(api, visitor, &known, job).await?),
        _ => None,
    };
    let title = words().say("job-title").with("job", job_name(job));
    let frame =
        Frame::of(api, visitor, Place::Jobs, title, format!("/jobs/{}", segment(id))).await?;
    let (status, page) = filled(frame, visitor, &known, &listed, sent);
    page_of(status, &JobPage { ready, lacks: lacks.flatten(), took, ..page })
}

/// The page, but for what is read beside the job.
fn filled(
    frame: Frame,
    visitor: &Visitor,
    known: &Known,
    listed: &Versioned<Job>,
    sent: Sent,
) -> (StatusCode, JobPage) {
    let Versioned { row: job, place } = listed;
    let measures = Measures::of(&known.shop);
    let is_stale = sent.wrong.as_ref().is_some_and(|wrong| wrong.kind == Kind::Stale);
    let code = sent.wrong.as_ref().map_or(StatusCode::OK, |wrong| match wrong.kind.parts().2 {
        status if status.is_client_error() => status,
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    });
    let (of_job, of_page) = match sent.job.is_some() && !is_stale {
        true => (sent.wrong, None),
        false => (None, sent.wrong),
    };
    let fields = sent.job.unwrap_or_else(|| filled_in(job, known));
    let products = known.products.values();
    let page = JobPage {
        frame,
        id: job.id.to_string(),
        name: job_name(job),
        what: what(job, known),
        shape: shape(job),
        day: job.planned_on.format("%A %-d %B %Y").to_string(),
        status: status(job),
        price: job.price.filter(|_| visitor.is_owner()).map(|price| measures.money(price)),
        version: place.version,
        is_booked: job.status == JobStatus::Booked,
        is_open: matches!(job.status, JobStatus::Booked | JobStatus::Started),
        is_done: job.status == JobStatus::Done,
        names_vehicle: job.vehicle.is_some(),
        again: again(job),
        ready: None,
        lacks: None,
        took: None,
        job: JobFields::of(known, fields, visitor.is_owner(), of_job),
        products: products.map(|own| (own.id.to_string(), own.name.clone())).collect(),
        pour: sent.pour.unwrap_or_default(),
        wrong: of_page,
        is_stale,
    };
    (code, page)
}

/// Whether the shelf carries a job, and why it may not.
async fn card(
    api: &Api,
    visitor: &Visitor,
    job: &Job,
) -> Result<(JobCard, Option<Lacks>), Problem> {
    let plan = plans::planned(api, &visitor.caller, WhichPlan::default()).await?;
    let snapshot = view::snapshot(api, &visitor.caller, None).await?;
    let view = View::new(&snapshot, &plan);
    let ready = plan.readiness.iter().find(|ready| ready.job == job.id.as_str());
    let (card, lacks) = (view.card(job), ready.and_then(|ready| Lacks::of(&view, ready)));
    let late = (job.planned_on < snapshot.day).then(|| day_name(job.planned_on, snapshot.day));
    Ok((JobCard { late, ..card }, lacks))
}

/// The address where the same is booked again.
fn again(job: &Job) -> String {
    use capful_domain::Word;
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.append_pair("vehicle", job.vehicle.as_deref().unwrap_or_default());
    query.append_pair("size", job.size.word());
    for job_type in &job.job_types {
        query.append_pair("job_types", job_type.as_str());
    }
    format!("/jobs/new?{}", query.finish())
}
