//! The record of a done job, to print and give to the vehicle's owner: no costs in it.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::trace::trace_job;
use capful_domain::{Id, Job, JobStatus};

use crate::api::Api;
use crate::known::known;
use crate::pages::frame::{Frame, Place};
use crate::pages::names::job_name;
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::path::{Named, segment};
use crate::problem::{Kind, Problem};
use crate::view;

#[derive(Template)]
#[template(path = "job_record.html")]
struct RecordPage {
    frame: Frame,
    id: String,
    name: String,
    day: String,
    services: Vec<String>,
    products: Vec<Used>,
}

/// A product that went on the vehicle, and its batch codes where they are known.
struct Used {
    id: Id,
    name: String,
    lots: Vec<String>,
}

/// `GET /jobs/{id}/record`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    Named(id): Named,
) -> Result<Response, Problem> {
    let known = known(&api, &visitor.caller).await?;
    let job = api.store.get::<Job>(visitor.caller.shop, id.as_str()).await?.row;
    if job.status != JobStatus::Done {
        let text = words().say("record-not-done").with("job", job_name(&job)).to_string();
        return Err(Problem::new(Kind::Refused, text));
    }
    let (_, ledger) = view::books(&api, &visitor.caller, None).await?;
    let mut products: Vec<Used> = Vec::new();
    for line in trace_job(&ledger, &id) {
        let place = products.iter().position(|own| own.id == line.product);
        let place = place.unwrap_or_else(|| {
            let own = known.products.get(&line.product);
            let name = own.map_or_else(|| line.product.to_string(), |own| own.name.clone());
            products.push(Used { id: line.product.clone(), name, lots: Vec::new() });
            products.len() - 1
        });
        let lot = ledger.container(&line.container).and_then(|own| own.lot.code.clone());
        let lots = &mut products[place].lots;
        lots.extend(lot.filter(|code| !lots.contains(code)));
    }
    let title = words().say("record-title").with("job", job_name(&job));
    let day = known.shop.day_of(job.ended_at(&known.shop));
    page(&RecordPage {
        frame: Frame::of(
            &api,
            &visitor,
            Place::Jobs,
            title,
            format!("/jobs/{}/record", segment(&id)),
        )
        .await?,
        id: id.to_string(),
        name: job_name(&job),
        day: day.format("%-d %B %Y").to_string(),
        services: job.job_types.iter().map(|id| known.job_type_name(id).to_owned()).collect(),
        products,
    })
}
