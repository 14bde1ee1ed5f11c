//! The shelf whole: each product as its containers, drawn as they stand.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::{Container, ContainerState, Product};

use super::books::{Books, morning};
use crate::api::Api;
use crate::pages::drawing::Near;
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::problem::Problem;

/// Products of a page: a page stays small on a phone with little signal.
const PAGE: usize = 40;
/// Open containers that are drawn of one product.
const DRAWN: usize = 4;

#[derive(Template)]
#[template(path = "shelf.html")]
struct ShelfPage {
    frame: Frame,
    wanted: String,
    count: usize,
    due: usize,
    groups: Vec<Group>,
    before: Option<String>,
    next: Option<String>,
}

/// Products of one category.
struct Group {
    category: String,
    rows: Vec<Row>,
}

/// One product on the shelf.
struct Row {
    id: String,
    name: String,
    drawings: Vec<Drawn>,
    /// Open containers that are not drawn.
    more: usize,
    left: String,
    /// What is near its end: how near, and in words.
    near: Option<(&'static str, String)>,
    is_due: bool,
}

/// A drawing, and how many it stands for.
struct Drawn {
    drawing: String,
    times: usize,
}

/// `GET /shelf?q=&page=`
pub(super) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    let fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    let books = Books::now(&api, &visitor).await?;
    let due = books.want_a_count(&*morning(&api, &visitor).await?);
    let wanted = fields.shown("q").to_owned();
    let mut products: Vec<&Product> = books.snapshot.facts.products.iter().collect();
    products.retain(|product| is_wanted(product, &wanted));
    products.sort_by_key(|product| (product.category.is_none(), turn(product)));
    let number: usize = fields.text("page").and_then(|text| text.parse().ok()).unwrap_or(1).max(1);
    let from = (number - 1).saturating_mul(PAGE);
    let shown = products.iter().skip(from).take(PAGE).copied();
    let groups = groups(&books, shown, &due);
    let address = |page: usize| {
        let query = form_urlencoded::Serializer::new(String::new())
            .append_pair("q", &wanted)
            .append_pair("page", &page.to_string())
            .finish();
        format!("/shelf?{query}")
    };
    let title = words().say("shelf-title");
    page(&ShelfPage {
        frame: Frame::of(&api, &visitor, Place::Shelf, title, "/shelf").await?,
        count: products.len(),
        due: due.len(),
        groups,
        before: (number > 1).then(|| address(number - 1)),
        next: (products.len() > from.saturating_add(PAGE)).then(|| address(number + 1)),
        wanted,
    })
}

fn turn(product: &Product) -> (Option<String>, String) {
    (product.category.as_ref().map(|text| text.to_lowercase()), product.name.to_lowercase())
}

/// Whether every word that was typed stands in a product's name, category, id or barcode.
fn is_wanted(product: &Product, typed: &str) -> bool {
    let (category, gtin) = (product.category.as_deref(), product.gtin.as_deref());
    let of = [product.name.as_str(), category.unwrap_or(""), product.id.as_str()];
    let text = format!("{} {}", of.join(" "), gtin.unwrap_or("")).to_lowercase();
    typed.to_lowercase().split_whitespace().all(|word| text.contains(word))
}

fn groups<'p>(
    books: &Books,
    products: impl Iterator<Item = &'p Product>,
    due: &BTreeMap<String, String>,
) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for product in products {
        let category = product.category.clone();
        let category = category.unwrap_or_else(|| words().say("shelf-no-category").to_string());
        let row = row(books, product, due);
        match groups.last_mut().filter(|group| group.category == category) {
            Some(group) => group.rows.push(row),
            None => groups.push(Group { category, rows: vec![row] }),
        }
    }
    groups
}

fn row(books: &Books, product: &Product, due: &BTreeMap<String, String>) -> Row {
    let live = books.live(product);
    let is_open = |own: &&&Container| own.state() == ContainerState::Open;
    let open: Vec<&Container> = live.iter().filter(is_open).copied().collect();
    let sealed: Vec<&Container> = live.iter().filter(|own| !is_open(own)).copied().collect();
    let one = |own: &&Container| Drawn { drawing: books.drawn(own, product), times: 1 };
    let mut drawings: Vec<Drawn> = open.iter().take(DRAWN).map(one).collect();
    // Sealed ones stand behind one drawing: of them, the one that goes first.
    let first = sealed.first().map(|own| Drawn { times: sealed.len(), ..one(own) });
    drawings.extend(first);
    Row {
        id: product.id.to_string(),
        name: product.name.clone(),
        drawings,
        more: open.len().saturating_sub(DRAWN),
        left: books.measures.quantity(books.good_and_past(product).0, product),
        near: near(books, product, &live),
        is_due: due.contains_key(product.id.as_str()),
    }
}

/// What of a product ends first, where its end is near.
fn near(books: &Books, product: &Product, live: &[&Container]) -> Option<(&'static str, String)> {
    let first = live.iter().min_by_key(|own| own.use_by(product).unwrap_or(chrono::NaiveDate::MAX));
    let first = *first?;
    let near = Near::of(first, product, books.day());
    let text = words()
        .say("shelf-near")
        .with("left", books.left_in(first, product))
        .with("until", books.until(first, product));
    (near != Near::Fresh).then(|| (near.class(), text.to_string()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use capful_domain::{Amount, Id, Unit};

    use super::*;

    #[test]
    fn a_filter_asks_for_every_word_in_any_order() {
        let size = Amount { number: 5.into(), unit: Unit::L };
        let own = Product::new(Id::parse("iron-remover").unwrap(), "Iron remover, 5 L", size);
        let own = Product { category: Some("decontamination".to_owned()), ..own };
        for typed in ["", "iron", "REMOVER iron", "deconta", "iron-rem"] {
            assert!(is_wanted(&own, typed), "{typed}");
        }
        assert!(!is_wanted(&own, "iron wax"));
    }
}
