//! Labels: a sheet to print and stick on, each with a code that opens its container's page.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, Uri, header};
use axum::response::Response;
use capful_domain::{Container, ContainerState, Product};

use super::books::Books;
use super::bottle::{long_day, state};
use super::cautions;
use super::qr;
use crate::api::Api;
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::path::container;
use crate::problem::Problem;

/// Labels of one sheet: three across and nine down on A4 or letter paper.
const SHEET: usize = 27;
/// Containers that are offered at once.
const OFFERED: usize = 80;
/// Days in which a container came lately.
const LATELY_DAYS: i64 = 7;

#[derive(Template)]
#[template(path = "labels.html")]
struct LabelsPage {
    frame: Frame,
    wanted: String,
    choices: Vec<Choice>,
    /// Some of them are chosen already.
    is_any_chosen: bool,
    /// Containers that are not offered.
    more: usize,
    labels: Vec<Label>,
    /// Chosen ones that are not on the sheet.
    too_many: usize,
}

/// A container that can have a label.
struct Choice {
    id: String,
    text: String,
    is_chosen: bool,
}

/// One label.
struct Label {
    name: String,
    lot: String,
    until: String,
    /// It is not opened yet: a line to write on.
    is_sealed: bool,
    signal: Option<String>,
    qr: String,
    id: String,
}

/// `GET /labels?c=&q=`
pub(super) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    let books = Books::now(&api, &visitor).await?;
    let wanted = fields.shown("q").to_owned();
    let chosen: BTreeSet<&str> = fields.all("c").collect();
    let mut live: Vec<(&Container, &Product)> = Vec::new();
    for own in books.ledger.containers().iter().filter(|own| own.is_live()) {
        live.push((own, books.product(own.product.as_str())?));
    }
    live.sort_by_key(|(own, _)| std::cmp::Reverse(own.came_at));
    let sheet: Vec<_> =
        live.iter().filter(|(own, _)| chosen.contains(own.id.as_str())).copied().collect();
    let label = |(own, product): &(&Container, &Product)| {
        label(own, product, &address(&api, &headers, own.id.as_str()))
    };
    let labels: Vec<Label> = sheet.iter().take(SHEET).map(label).collect();
    let offered: Vec<_> =
        live.iter().filter(|(own, product)| is_offered(own, product, &wanted)).collect();
    let choice = |(own, product): &&(&Container, &Product)| {
        choice(&books, own, product, &chosen, wanted.is_empty())
    };
    let choices: Vec<Choice> = offered.iter().take(OFFERED).map(choice).collect();
    let title = words().say("labels-title");
    page(&LabelsPage {
        frame: Frame::of(&api, &visitor, Place::Shelf, title, "/labels").await?,
        is_any_chosen: choices.iter().any(|one| one.is_chosen),
        choices,
        more: offered.len().saturating_sub(OFFERED),
        too_many: sheet.len().saturating_sub(SHEET),
        wanted,
        labels,
    })
}

fn is_offered(own: &Container, product: &Product, typed: &str) -> bool {
    let text = format!("{} {} {}", product.name, own.id, own.lot.name()).to_lowercase();
    typed.to_lowercase().split_whitespace().all(|word| text.contains(word))
}

fn choice(
    books: &Books,
    own: &Container,
    product: &Product,
    chosen: &BTreeSet<&str>,
    is_whole: bool,
) -> Choice {
    let came = books.shop().day_of(own.came_at);
    let is_new = is_whole && (books.day() - came).num_days() <= LATELY_DAYS;
    let text = words()
        .say("labels-choice")
        .with("product", &product.name)
        .with("id", &own.id)
        .with("state", state(own))
        .with("came", long_day(came));
    let is_chosen = if chosen.is_empty() { is_new } else { chosen.contains(own.id.as_str()) };
    Choice { id: own.id.to_string(), text: text.to_string(), is_chosen }
}

fn label(own: &Container, product: &Product, address: &str) -> Label {
    let t = words();
    let until = own.use_by(product).map(long_day);
    let name = match own.mix {
        Some(ratio) => format!("{} {ratio}", product.name),
        None => product.name.clone(),
    };
    let is_sealed = own.state() == ContainerState::Sealed;
    let opened = own.opened.filter(|_| !is_sealed).map(|opened| long_day(opened.on));
    let until = match (until, opened) {
        (Some(day), Some(opened)) => {
            t.say("label-opened-until").with("opened", opened).with("day", day).to_string()
        }
        (Some(day), None) => t.say("label-until").with("day", day).to_string(),
        (None, Some(opened)) => t.say("label-opened").with("day", opened).to_string(),
        (None, None) => String::new(),
    };
    Label {
        name,
        lot: t.say("label-lot").with("lot", own.lot.name()).to_string(),
        until,
        is_sealed,
        signal: cautions::signal(product),
        qr: qr::drawn(address, &t.say("qr-leads").with("address", address).to_string()),
        id: own.id.to_string(),
    }
}

/// The whole address of a container's page: below the public address where there is one, else as
/// whoever asks has reached this service.
pub(super) fn address(api: &Api, headers: &HeaderMap, id: &str) -> String {
    if let Some(public) = &api.settings.public_url {
        return format!("{public}{}", container(id));
    }
    let told = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let is_plain = |host: &&str| {
        host.bytes().all(|byte| byte.is_ascii_alphanumeric() || b".-:[]".contains(&byte))
    };
    let host = told(header::HOST.as_str()).filter(is_plain).unwrap_or("localhost");
    format!("http://{host}{}", container(id))
}
