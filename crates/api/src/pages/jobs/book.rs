//! Booking: what is to be done, on which vehicle, on which day; and first, whether the shelf would
//! carry it.

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::response::Response;
use capful_store::{Change, Effects};

use super::fields::{self, JobFields};
use super::outlook::Outlook;
use crate::api::Api;
use crate::known::known;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::path::segment;
use crate::problem::Problem;
use crate::written::refusal;

#[derive(Template)]
#[template(path = "job_new.html")]
struct BookPage {
    frame: Frame,
    job: JobFields,
    outlook: Option<Outlook>,
}

/// `GET /jobs/new`, with what is known of it already behind the `?`.
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    RawQuery(query): RawQuery,
) -> Result<Response, Problem> {
    let mut fields = Fields::read(query.unwrap_or_default().as_bytes());
    let today = known(&api, &visitor.caller).await?.shop.day_of(api.now());
    for (name, usual) in
        [("planned_on", &*today.to_string()), ("size", "medium"), ("condition", "3")]
    {
        if fields.text(name).is_none() {
            fields.set(name, usual);
        }
    }
    shown(&api, &visitor, fields, None, None).await
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    fields: Fields,
    outlook: Option<Outlook>,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let status = status_of(&wrong);
    let frame =
        Frame::of(api, visitor, Place::Jobs, words().say("book-title"), "/jobs/new").await?;
    let job = JobFields::of(&known, fields, visitor.is_owner(), wrong);
    page_of(status, &BookPage { frame, job, outlook })
}

/// `POST /jobs/new`
pub(crate) async fn post(State(api): State<Api>, form: Form) -> Result<Response, Problem> {
    match book(&api, &form).await {
        Err(wrong) if wrong.field.is_some() => {
            shown(&api, &form.visitor, form.fields.clone(), None, Some(wrong)).await
        }
        other => other,
    }
}

async fn book(api: &Api, form: &Form) -> Result<Response, Problem> {
    let known = known(api, &form.visitor.caller).await?;
    let job = fields::read(api, &known, form)?;
    if form.fields.text("do") == Some("look") {
        let outlook = Outlook::of(api, &form.visitor.caller, &known, job).await?;
        return shown(api, &form.visitor, form.fields.clone(), Some(outlook), None).await;
    }
    let path = format!("/jobs/{}", segment(&job.id));
    let answer = |outcome: &Effects| lead_to(&path, outcome);
    let done = api.store.change(&form.asked(api), &Change::Book(job), answer).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}
