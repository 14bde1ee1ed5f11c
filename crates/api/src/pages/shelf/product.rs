//! A product: its containers, what is done to them, where it went, what is to come, what can hurt.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::{Product, Unit};

use super::acts::{About, Acts, Sent, Weigh, act, can_be_put_right};
use super::books::{Books, morning};
use super::bottle::{Bottle, Went};
use super::cautions::Cautions;
use super::outlook::{Ahead, Takes};
use crate::api::Api;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::path::{NamedText, segment};
use crate::problem::Problem;

/// Movements that are told.
const WENT: usize = 12;

#[derive(Template)]
#[template(path = "product.html")]
struct ProductPage {
    frame: Frame,
    what: String,
    /// What of it is good, and what is past its use-by, if anything.
    left: String,
    past: Option<String>,
    /// Why it wants a count.
    count: Option<String>,
    bottles: Vec<Bottle>,
    acts: Acts,
    ahead: Option<Ahead>,
    takes: Vec<Takes>,
    went: Vec<Went>,
    substitutes: Vec<(String, String, String)>,
    cautions: Cautions,
    /// What to wear, in a word each.
    wear: String,
    notes: Option<String>,
}

/// `GET /shelf/{product}`
pub(super) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    NamedText(id): NamedText,
    uri: Uri,
) -> Result<Response, Problem> {
    let fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    shown(&api, &visitor, &id, &fields, None).await
}

/// `POST /shelf/{product}`
pub(super) async fn post(
    State(api): State<Api>,
    NamedText(id): NamedText,
    form: Form,
) -> Result<Response, Problem> {
    let books = Books::now(&api, &form.visitor).await?;
    let (product, then) = (&books.product(&id)?.id, format!("/shelf/{}", segment(&id)));
    match act(&api, &form, &About { product, container: None, then: &then }).await {
        Err(wrong) if can_be_put_right(&wrong) => {
            let sent = Some((form.fields.clone(), wrong));
            shown(&api, &form.visitor, &id, &Fields::default(), sent).await
        }
        other => other,
    }
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    id: &str,
    fields: &Fields,
    sent: Sent,
) -> Result<Response, Problem> {
    let status = status_of(&sent);
    let books = Books::now(api, visitor).await?;
    let plan = morning(api, visitor).await?;
    let product = books.product(id)?;
    let acts = Acts::of(&books, product, None, fields, sent);
    let path = format!("/shelf/{}", segment(id));
    let (good, past) = books.good_and_past(product);
    page_of(
        status,
        &ProductPage {
            frame: Frame::of(api, visitor, Place::Shelf, &product.name, path).await?,
            what: what(&books, product),
            left: books.measures.quantity(good, product),
            past: (!past.is_zero()).then(|| books.measures.quantity(past, product)),
            count: books.want_a_count(&plan).remove(id),
            bottles: books.bottles(&books.live(product), product),
            acts: acts.receiving(&books, product, visitor.is_owner()),
            ahead: books.ahead(product, &plan),
            takes: books.takes(product, &plan),
            went: books.went(product, WENT, |_| true),
            substitutes: substitutes(&books, product),
            cautions: Cautions::of(product),
            wear: product.protection.join(", "),
            notes: product.notes.clone(),
        },
    )
}

/// How it is sold, and how long it keeps.
fn what(books: &Books, product: &Product) -> String {
    let t = words();
    let form = match product.form {
        capful_domain::Form::Concentrate => t.say("form-concentrate"),
        capful_domain::Form::ReadyToUse if product.unit == Unit::Each => t.say("form-pieces"),
        capful_domain::Form::ReadyToUse => t.say("form-ready"),
    };
    let form = form.with("size", books.measures.quantity(product.size(), product)).to_string();
    let lives = [("keeps-open", product.open_days), ("keeps-mixed", product.mix_days)];
    let keeps = |days| words().say(span(days).0).with("number", span(days).1).to_string();
    let lives = lives.iter().filter_map(|(name, days)| {
        days.map(|days| t.say(name).with("time", keeps(days)).to_string())
    });
    std::iter::once(form).chain(lives).collect::<Vec<_>>().join(" ")
}

/// A span of days as people speak of it: the name of its text, and its number.
const fn span(days: u32) -> (&'static str, u32) {
    match days {
        ..=60 => ("time-days", days),
        _ if days.is_multiple_of(365) => ("time-years", days / 365),
        _ => ("time-months", (days + 15) / 30),
    }
}

/// What serves in its place: id, name, and what is left of it.
fn substitutes(books: &Books, product: &Product) -> Vec<(String, String, String)> {
    let own = product.substitutes.iter().filter_map(|id| books.product(id.as_str()).ok());
    let left = |own: &Product| books.measures.quantity(books.good_and_past(own).0, own);
    own.map(|own| (own.id.to_string(), own.name.clone(), left(own))).collect()
}
