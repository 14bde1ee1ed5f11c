//! Stock-taking: one product after another, the one whose count is most due first.
//!
//! Where it has got to is in the address and in the counts of the day: nothing is lost where
//! somebody stops halfway. The order is that of the plan of this morning, so that it stays.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::Product;

use super::acts::{About, Acts, Sent, Weigh, act, can_be_put_right};
use super::books::{Books, morning};
use super::bottle::Bottle;
use crate::api::Api;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "count.html")]
struct CountPage {
    frame: Frame,
    /// Products counted today, and all of them.
    counted: usize,
    all: usize,
    /// Those that were passed over.
    skipped: usize,
    now: Option<Now>,
}

/// The product that is counted now.
struct Now {
    id: String,
    name: String,
    /// Its place among all of them.
    number: usize,
    why: Option<String>,
    last: String,
    books_say: String,
    bottles: Vec<Bottle>,
    acts: Acts,
    /// Where it goes on without this one.
    skip: String,
}

/// `GET /count?skip=`
pub(super) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    let fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    shown(&api, &visitor, skipped(&fields), None).await
}

/// `POST /count`
pub(super) async fn post(State(api): State<Api>, mut form: Form) -> Result<Response, Problem> {
    let books = Books::now(&api, &form.visitor).await?;
    let product = &books.product(form.fields.shown("product"))?.id;
    let skip = skipped(&form.fields);
    let then = format!("/count?skip={skip}");
    form.fields.set("act", "count");
    match act(&api, &form, &About { product, container: None, then: &then }).await {
        Err(wrong) if can_be_put_right(&wrong) => {
            shown(&api, &form.visitor, skip, Some((form.fields.clone(), wrong))).await
        }
        other => other,
    }
}

/// How many were passed over.
fn skipped(fields: &Fields) -> usize {
    fields.text("skip").and_then(|text| text.parse().ok()).unwrap_or_default()
}

async fn shown(api: &Api, visitor: &Visitor, skip: usize, sent: Sent) -> Result<Response, Problem> {
    let status = status_of(&sent);
    let books = Books::now(api, visitor).await?;
    let why = books.want_a_count(&*morning(api, visitor).await?);
    let counted = books.counted_today();
    let mut left: Vec<&Product> = books.snapshot.facts.products.iter().collect();
    let all = left.len();
    left.retain(|product| !counted.contains(&product.id));
    let last = books.last_counted();
    let turn = |product: &&Product| {
        let id = &product.id;
        (!why.contains_key(id.as_str()), last.get(id).copied(), product.name.to_lowercase())
    };
    left.sort_by_key(turn);
    let skip = skip.min(left.len());
    let counted = all - left.len();
    // What was sent and refused is shown again, whichever is next by now.
    let again = sent.as_ref().and_then(|(fields, _)| books.product(fields.shown("product")).ok());
    let next = again.or_else(|| left.get(skip).copied());
    let now = next.map(|product| {
        let mut acts = Acts::of(&books, product, None, &Fields::default(), sent);
        acts.path = "/count".to_owned();
        let never = words().say("count-never").to_string();
        let last = last.get(&product.id).map(|day| super::bottle::long_day(*day));
        let last = last.map(|day| words().say("count-last").with("day", day).to_string());
        Now {
            id: product.id.to_string(),
            name: product.name.clone(),
            number: counted + skip + 1,
            why: why.get(product.id.as_str()).cloned(),
            last: last.unwrap_or(never),
            books_say: books.measures.quantity(books.left(product), product),
            bottles: books.bottles(&books.live(product), product),
            acts,
            skip: format!("/count?skip={}", skip + 1),
        }
    });
    let title = words().say("count-title");
    let frame = Frame::of(api, visitor, Place::Shelf, title, format!("/count?skip={skip}")).await?;
    page_of(status, &CountPage { frame, counted, all, skipped: skip, now })
}
