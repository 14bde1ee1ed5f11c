//! Where a lot went: every job and vehicle, to read and to print.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::trace::{LotTrace, LotUse, trace_lot};
use capful_domain::{Id, Job, Product, Snapshot};

use crate::api::Api;
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::path::{NamedText, segment};
use crate::problem::Problem;
use crate::routes::costs::is_expected;
use crate::view;

#[derive(Template)]
#[template(path = "trace.html")]
struct TracePage {
    frame: Frame,
    lot: String,
    day: String,
    traces: Vec<Trace>,
}

/// Where the containers of one product and lot went.
struct Trace {
    product: String,
    left: String,
    containers: String,
    uses: Vec<Use>,
}

/// What went on one job.
struct Use {
    job: String,
    vehicle: String,
    day: String,
    amount: String,
    is_measured: bool,
}

/// `GET /trace/lots/{lot}`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    NamedText(lot): NamedText,
) -> Result<Response, Problem> {
    let (snapshot, ledger) = view::books(&api, &visitor.caller, None).await?;
    let traces = trace_lot(&snapshot, &ledger, &lot);
    if traces.is_empty() {
        return Err(Problem::not_found("lot", &lot));
    }
    let title = words().say("trace-title").with("lot", &lot);
    let path = format!("/trace/lots/{}", segment(&lot));
    page(&TracePage {
        frame: Frame::of(&api, &visitor, Place::Jobs, title, path).await?,
        day: snapshot.day.format("%-d %B %Y").to_string(),
        traces: traces.iter().filter_map(|own| trace(own, &snapshot)).collect(),
        lot,
    })
}

fn trace(own: &LotTrace, snapshot: &Snapshot) -> Option<Trace> {
    let measures = Measures::of(&snapshot.facts.shop);
    let product = snapshot.facts.products.iter().find(|product| product.id == own.product)?;
    // What came out of several containers for one job is one line.
    let mut uses: Vec<LotUse> = Vec::new();
    for line in &own.uses {
        match uses.iter_mut().find(|other| other.job == line.job) {
            Some(other) => other.quantity += line.quantity,
            None => uses.push(line.clone()),
        }
    }
    let containers: Vec<&str> = own.containers.iter().map(|id| id.as_str()).collect();
    Some(Trace {
        product: product.name.clone(),
        left: measures.quantity(own.left, product),
        containers: containers.join(", "),
        uses: uses.iter().map(|line| used(line, product, snapshot)).collect(),
    })
}

fn used(line: &LotUse, product: &Product, snapshot: &Snapshot) -> Use {
    let measures = Measures::of(&snapshot.facts.shop);
    let day = |job: &Job| {
        let shop = &snapshot.facts.shop;
        shop.day_of(job.ended_at(shop)).format("%-d %b %Y").to_string()
    };
    let job = snapshot.facts.jobs.iter().find(|job| job.id == line.job);
    Use {
        job: line.job.to_string(),
        vehicle: line.vehicle.clone().unwrap_or_else(|| line.job.to_string()),
        day: job.map(day).unwrap_or_default(),
        amount: measures.quantity(line.quantity, product),
        is_measured: was_measured(snapshot, &line.job, &product.id),
    }
}

/// Whether somebody said what a job took of a product.
fn was_measured(snapshot: &Snapshot, job: &Id, product: &Id) -> bool {
    let mut pours = snapshot.facts.pours.iter();
    let is_poured = pours.any(|p| p.job.as_ref() == Some(job) && p.product == *product);
    is_poured && !is_expected(snapshot, job, product)
}
