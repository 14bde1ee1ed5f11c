//! Orders: those that something is still to come of, and those that are over.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::facts::{Order, OrderStatus};
use capful_domain::{Id, Snapshot};
use rust_decimal::prelude::ToPrimitive;

use crate::api::Api;
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place, day_name};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::problem::Problem;
use crate::view;

/// Past orders on one page.
const SHOWN: usize = 50;

#[derive(Template)]
#[template(path = "orders.html")]
struct OrdersPage {
    frame: Frame,
    open: Vec<Row>,
    past: Vec<Row>,
    /// How many past ones the page before the older ones goes to.
    older: Option<usize>,
}

/// An order as a line.
struct Row {
    id: String,
    name: String,
    day: String,
    text: String,
    is_late: bool,
}

/// `GET /orders`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    let snapshot = view::snapshot(&api, &visitor.caller, None).await?;
    let query = Fields::read(uri.query().unwrap_or_default().as_bytes());
    let from: usize = query.text("from").and_then(|text| text.parse().ok()).unwrap_or(0);
    let mut to_come: BTreeMap<&Id, u32> = BTreeMap::new();
    for line in &snapshot.orders.outstanding {
        *to_come.entry(&line.order).or_default() += line.containers;
    }
    let mut orders: Vec<&Order> = snapshot.facts.orders.iter().collect();
    orders.sort_by_key(|order| std::cmp::Reverse(order.placed_at));
    let row = |order: &&Order| row(&snapshot, order, to_come.get(&order.id).copied());
    let is_open = |order: &&&Order| to_come.contains_key(&order.id);
    let open = orders.iter().filter(is_open).map(row).collect();
    let past: Vec<&&Order> = orders.iter().filter(|order| !is_open(order)).collect();
    let older = Some(from + SHOWN).filter(|next| *next < past.len());
    let title = words().say("orders-title");
    let frame = Frame::of(&api, &visitor, Place::Order, title, "/orders").await?;
    let past = past.into_iter().skip(from).take(SHOWN).map(row).collect();
    page(&OrdersPage { frame, open, past, older })
}

fn row(snapshot: &Snapshot, order: &Order, to_come: Option<u32>) -> Row {
    let t = words();
    let placed_on = snapshot.facts.shop.day_of(order.placed_at);
    let mut suppliers = snapshot.facts.suppliers.iter();
    let supplier = suppliers.find(|supplier| supplier.id == order.supplier);
    let lead = supplier.and_then(|supplier| supplier.lead_days.ceil().to_u64()).unwrap_or(0);
    let due = placed_on.checked_add_days(chrono::Days::new(lead)).unwrap_or(placed_on);
    let is_late = to_come.is_some() && due < snapshot.day;
    let text = match to_come {
        Some(left) => t
            .say(if is_late { "orders-late" } else { "orders-to-come" })
            .with("count", left)
            .with("day", day_name(due, snapshot.day))
            .to_string(),
        None => t.say(status_name(order)).to_string(),
    };
    Row {
        id: order.id.to_string(),
        name: supplier.map_or(order.supplier.as_str(), |own| own.name.as_str()).to_owned(),
        day: day_of(snapshot, order),
        text,
        is_late,
    }
}

/// How an order that nothing is to come of stands.
pub(super) fn status_name(order: &Order) -> &'static str {
    match order.status {
        Some(OrderStatus::Cancelled) => "orders-cancelled",
        Some(OrderStatus::Received) => "orders-over",
        _ => "orders-came",
    }
}

/// The day that an order was placed on.
pub(super) fn day_of(snapshot: &Snapshot, order: &Order) -> String {
    let day = snapshot.facts.shop.day_of(order.placed_at);
    match (snapshot.day - day).num_days() {
        0 | 1 => day_name(day, snapshot.day),
        2..=180 => day.format("%a %-d %b").to_string(),
        _ => day.format("%-d %b %Y").to_string(),
    }
}
