//! One container: how it stands, what went out of it, what is done to it, what its label opens.

use askama::Template;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use capful_domain::{Container, ContainerId};

use super::acts::{About, Acts, Sent, Weigh, act, can_be_put_right};
use super::books::Books;
use super::bottle::{Went, long_day, state};
use super::cautions;
use super::labels::address;
use super::qr;
use crate::api::Api;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::path::{self, NamedText};
use crate::problem::Problem;

/// Movements that are told.
const WENT: usize = 40;

#[derive(Template)]
#[template(path = "container.html")]
struct ContainerPage {
    frame: Frame,
    id: String,
    product: (String, String),
    drawing: String,
    life: String,
    left: String,
    until: String,
    state: String,
    /// What is known of it: a word and its value.
    known: Vec<(String, String)>,
    signal: Option<String>,
    acts: Acts,
    went: Vec<Went>,
    qr: String,
    address: String,
}

/// `GET /containers/{id}`
pub(super) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    NamedText(id): NamedText,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    shown(&api, &visitor, &id, &headers, None).await
}

/// `POST /containers/{id}`
pub(super) async fn post(
    State(api): State<Api>,
    NamedText(id): NamedText,
    headers: HeaderMap,
    form: Form,
) -> Result<Response, Problem> {
    let books = Books::now(&api, &form.visitor).await?;
    let own = found(&books, &id)?;
    let then = path::container(&id);
    let about = About { product: &own.product, container: Some(own), then: &then };
    match act(&api, &form, &about).await {
        Err(wrong) if can_be_put_right(&wrong) => {
            let sent = Some((form.fields.clone(), wrong));
            shown(&api, &form.visitor, &id, &headers, sent).await
        }
        other => other,
    }
}

fn found<'b>(books: &'b Books, id: &str) -> Result<&'b Container, Problem> {
    let own = ContainerId::parse(id).ok().and_then(|id| books.ledger.container(&id));
    own.ok_or_else(|| Problem::not_found("container", id))
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: &str,
    headers: &HeaderMap,
    sent: Sent,
) -> Result<Response, Problem> {
    let status = status_of(&sent);
    let books = Books::now(api, visitor).await?;
    let own = found(&books, id)?;
    let product = books.product(own.product.as_str())?;
    let address = address(api, headers, id);
    let title = words().say("container-title").with("product", &product.name).with("id", id);
    let path = path::container(id);
    let label = words().say("qr-leads").with("address", &address).to_string();
    page_of(
        status,
        &ContainerPage {
            frame: Frame::of(api, visitor, Place::Shelf, title, path).await?,
            id: id.to_owned(),
            product: (product.id.to_string(), product.name.clone()),
            drawing: books.drawn(own, product),
            life: if own.is_live() { books.life(own, product) } else { String::new() },
            left: books.left_in(own, product),
            until: books.until(own, product),
            state: state(own),
            known: known_of(&books, own),
            signal: cautions::signal(product),
            acts: Acts::of(&books, product, Some(own), &Fields::default(), sent),
            went: books.went(product, WENT, |movement| movement.container == own.id),
            qr: qr::drawn(&address, &label),
            address,
        },
    )
}

/// Its lot, dates and where it came from.
fn known_of(books: &Books, own: &Container) -> Vec<(String, String)> {
    let shop = books.shop();
    let suppliers = &books.snapshot.facts.suppliers;
    let supplier = own.lot.supplier.as_ref().map(|id| {
        let known = suppliers.iter().find(|own| own.id == *id);
        known.map_or_else(|| id.to_string(), |own| own.name.clone())
    });
    let came = if own.mix.is_some() { "known-mixed" } else { "known-came" };
    let all = [
        ("known-lot", Some(own.lot.name().to_owned())),
        (came, Some(long_day(shop.day_of(own.came_at)))),
        ("known-opened", own.opened.map(|opened| long_day(opened.on))),
        ("known-best-before", own.lot.best_before.map(long_day)),
        ("known-supplier", supplier),
    ];
    let filled = all.into_iter().filter_map(|(name, text)| Some((name, text?)));
    filled.map(|(name, text)| (words().say(name).to_string(), text)).collect()
}
