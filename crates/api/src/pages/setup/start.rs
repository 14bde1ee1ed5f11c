//! The starting set: what to take of it is ticked, and it is added in one go. What is there already
//! stays as it is.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Facts, Id, JobType, Product, SheetRow};
use capful_store::{Change, Effects};

use super::starting_set;
use crate::api::Api;
use crate::known::{Known, known};
use crate::page;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/start.html")]
struct StartPage {
    frame: Frame,
    job_types: Vec<Line>,
    products: Vec<Line>,
    wrong: Option<Problem>,
}

/// Something that can be ticked.
struct Line {
    id: String,
    name: String,
    /// What it takes, or how it is.
    what: String,
    is_there: bool,
    is_on: bool,
}

/// `GET /setup/start`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    shown(&api, &visitor, None, None).await
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    sent: Option<&Fields>,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let known = known(api, &visitor.caller).await?;
    let types = page::whole::<JobType>(api, &visitor.caller).await?;
    let set = starting_set::all(&known.shop);
    let is_on = |name: &str, id: &Id| sent.is_none_or(|fields| fields.ticked(name, id.as_str()));
    let job_types = set.job_types.iter().map(|own| Line {
        id: own.id.to_string(),
        name: own.name.clone(),
        what: sheet(&set, &own.id, &known),
        is_there: types.iter().any(|listed| listed.row.id == own.id),
        is_on: is_on("job_type", &own.id),
    });
    let products = set.products.iter().map(|own| Line {
        id: own.id.to_string(),
        name: own.name.clone(),
        what: how(own, &known),
        is_there: known.products.contains_key(&own.id),
        is_on: is_on("product", &own.id),
    });
    let (job_types, products) = (job_types.collect(), products.collect());
    let status = status_of(&wrong);
    let title = words().say("start-title");
    let frame = Frame::of(api, visitor, Place::More, title, "/setup/start").await?;
    page_of(status, &StartPage { frame, job_types, products, wrong })
}

/// What a job type of the set takes.
fn sheet(set: &Facts, job_type: &Id, known: &Known) -> String {
    let measures = Measures::of(&known.shop);
    let own = set.usage_sheet.iter().filter(|row| row.job_type == *job_type);
    let says = |row: &SheetRow| {
        let product = set.products.iter().find(|product| product.id == row.product)?;
        let amount = measures.quantity(product.quantity(row.amount).ok()?, product);
        Some(match row.ratio {
            Some(ratio) => format!("{} {amount} {ratio}", product.name),
            None => format!("{} {amount}", product.name),
        })
    };
    own.filter_map(says).collect::<Vec<_>>().join(", ")
}

/// What a product of the set comes in, and how long it lasts.
fn how(product: &Product, known: &Known) -> String {
    let t = words();
    let size = Measures::of(&known.shop).quantity(product.size(), product);
    let mut parts = vec![size];
    if let Some(days) = product.open_days {
        parts.push(t.say("start-open").with("days", days).to_string());
    }
    if !product.protection.is_empty() {
        parts.push(t.say("wear").with("what", product.protection.join(", ")).to_string());
    }
    parts.join(" · ")
}

/// `POST /setup/start`
pub(crate) async fn post(
    State(api): State<Api>,
    Owner(visitor): Owner,
    form: Form,
) -> Result<Response, Problem> {
    let known = known(&api, &visitor.caller).await?;
    let types = page::whole::<JobType>(&api, &visitor.caller).await?;
    let facts = starting_set::chosen(
        &known.shop,
        |id| form.fields.ticked("product", id.as_str()),
        |id| form.fields.ticked("job_type", id.as_str()),
        |id| known.products.get(id).cloned(),
        |id| types.iter().any(|listed| listed.row.id == *id),
    );
    let asked = form.asked(&api);
    let is_nothing = facts.products.is_empty() && facts.job_types.is_empty();
    // Asked again, it is all there: then what was answered is answered again.
    if is_nothing && api.store.answered_before(&asked).await?.is_none() {
        let nothing = Problem::field("product", words().say("start-nothing").to_string());
        return shown(&api, &visitor, Some(&form.fields), Some(nothing)).await;
    }
    let change = Change::Import { facts: Box::new(facts), expected: Vec::new() };
    let answer = |outcome: &Effects| lead_to("/setup", outcome);
    Ok(led(&api.store.change(&asked, &change, answer).await?))
}
