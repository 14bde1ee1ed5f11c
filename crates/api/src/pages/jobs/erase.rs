//! A vehicle's name is erased: first the jobs that name it are shown, then it goes from all of them
//! and from earlier changes of them. Owners only.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use capful_domain::{Id, Job};
use capful_store::Versioned;

use super::one::{Sent, shown};
use super::status;
use crate::api::Api;
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Place};
use crate::pages::names::short;
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::{Owner, Visitor};
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};

#[derive(Template)]
#[template(path = "job_erase.html")]
struct ErasePage {
    frame: Frame,
    id: String,
    version: i64,
    jobs: Vec<Naming>,
}

/// A job that names the vehicle.
struct Naming {
    id: String,
    name: String,
    day: String,
    status: String,
}

/// `GET /jobs/{id}/vehicle`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
) -> Result<Response, Problem> {
    let Versioned { row: job, place } = found(&api, &visitor, &id).await?;
    let Some(vehicle) = job.vehicle else {
        return Ok(Redirect::to(&format!("/jobs/{}", segment(&id))).into_response());
    };
    let jobs = api.store.jobs_of_vehicle(visitor.caller.shop, &vehicle).await?;
    let naming = |job: &Job| Naming {
        id: job.id.to_string(),
        name: short(job.id.as_str()),
        day: job.planned_on.format("%-d %B %Y").to_string(),
        status: status(job),
    };
    let title = words().say("erase-title").with("vehicle", vehicle);
    let path = format!("/jobs/{}/vehicle", segment(&id));
    let frame = Frame::of(&api, &visitor, Place::Jobs, title, path).await?;
    let (jobs, version) = (jobs.iter().map(naming).collect(), place.version);
    page(&ErasePage { frame, id: id.to_string(), version, jobs })
}

/// `POST /jobs/{id}/vehicle`
pub(crate) async fn post(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Named(id): Named,
    form: Form,
) -> Result<Response, Problem> {
    let Versioned { row: job, place } = found(&api, &visitor, &id).await?;
    let path = format!("/jobs/{}", segment(&id));
    // The same form again finds nothing left to erase.
    let Some(vehicle) = job.vehicle else { return Ok(Redirect::to(&path).into_response()) };
    if form.version()? != Some(place.version) {
        let stale = Problem::new(Kind::Stale, words().say("job-stale").to_string());
        return shown(&api, &visitor, &id, Sent { wrong: Some(stale), ..Sent::default() }).await;
    }
    let caller = &visitor.caller;
    let erased = api.store.erase_vehicle(caller.shop, &vehicle, api.now(), caller.by).await?;
    let done = erased.deed.map(|deed| format!("?done={deed}")).unwrap_or_default();
    Ok(Redirect::to(&format!("{path}{done}")).into_response())
}

async fn found(api: &Api, visitor: &Visitor, id: &Id) -> Result<Versioned<Job>, Problem> {
    Ok(api.store.get::<Job>(visitor.caller.shop, id.as_str()).await?)
}
