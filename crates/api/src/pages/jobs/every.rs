//! Every job, the last first, a page at a time; found by vehicle.

use askama::Template;
use axum::response::Response;

use super::{shape, status, what};
use crate::api::Api;
use crate::known::known;
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place};
use crate::pages::names::job_name;
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::problem::Problem;

/// Jobs on a page.
const ROWS: u64 = 50;

#[derive(Template)]
#[template(path = "jobs_all.html")]
struct EveryPage {
    frame: Frame,
    vehicle: String,
    jobs: Vec<Row>,
    /// The addresses of the pages beside this one.
    before: Option<String>,
    after: Option<String>,
}

struct Row {
    id: String,
    name: String,
    what: String,
    shape: String,
    day: String,
    status: String,
}

/// `GET /jobs?all=PAGE&vehicle=TEXT`
pub(crate) async fn shown(
    api: &Api,
    visitor: &Visitor,
    asked: Fields,
) -> Result<Response, Problem> {
    let number = asked.text("all").unwrap_or("1").parse::<u32>().ok().filter(|page| *page > 0);
    let number = number.ok_or_else(|| {
        let found = asked.shown("all");
        Problem::query("all", format!("found {found:?}, expected the number of a page, from 1"))
    })?;
    let known = known(api, &visitor.caller).await?;
    let skip = u64::from(number - 1) * ROWS;
    let vehicle = asked.text("vehicle");
    let mut jobs = api.store.jobs_back(visitor.caller.shop, vehicle, skip, ROWS + 1).await?;
    let is_more = jobs.len() as u64 > ROWS;
    jobs.truncate(ROWS as usize);
    let row = |job: &capful_domain::Job| Row {
        id: job.id.to_string(),
        name: job_name(job),
        what: what(job, &known),
        shape: shape(job),
        day: job.planned_on.format("%a %-d %b %Y").to_string(),
        status: status(job),
    };
    let vehicle = asked.shown("vehicle").to_owned();
    let address = |number: u32| {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.append_pair("all", &number.to_string());
        if !vehicle.is_empty() {
            query.append_pair("vehicle", &vehicle);
        }
        format!("/jobs?{}", query.finish())
    };
    let title = words().say("jobs-all");
    page(&EveryPage {
        frame: Frame::of(api, visitor, Place::Jobs, title, address(number)).await?,
        jobs: jobs.iter().map(|listed| row(&listed.row)).collect(),
        before: (number > 1).then(|| address(number - 1)),
        after: is_more.then(|| address(number + 1)),
        vehicle,
    })
}
