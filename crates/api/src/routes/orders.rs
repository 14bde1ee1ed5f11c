//! Orders placed with suppliers, and what of each is still to come.

use std::collections::HashSet;

use axum::Json;
use axum::extract::State;
use capful_domain::facts::{Order, OrderStatus};
use capful_domain::{AsOf, Facts, Id, OrderBook, Snapshot, Word};
use capful_store::Versioned;
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, Cursor, Limit, Page};
use crate::params::{Params, parsed, word};
use crate::problem::Problem;
use crate::schema;
use crate::view;

/// An order placed with a supplier.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct OrderRow {
    /// The shop's own id.
    pub id: String,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
    /// With whom.
    pub supplier: String,
    /// `placed`, `received` or `cancelled`. With `as_of` as it stood then, as far as that is known:
    /// an order of which the first came later was placed; when one was cancelled is not known.
    pub status: &'static str,
    /// What was ordered.
    pub lines: Vec<OrderLineRow>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

/// A line of an order.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct OrderLineRow {
    /// Of what.
    pub product: String,
    /// How many packs.
    pub packs: u32,
    /// The supplier's code.
    pub supplier_code: Option<String>,
    /// Containers of the product that are still to come of this order.
    pub outstanding: u32,
}

impl OrderRow {
    fn of(order: &Order, status: OrderStatus, snapshot: &Snapshot, version: i64) -> Self {
        let lines = snapshot.facts.order_lines.iter().filter(|line| line.order == order.id);
        let to_come = |product: &Id| {
            let lines = snapshot.orders.outstanding.iter();
            let own = lines.filter(|line| line.order == order.id && line.product == *product);
            own.map(|line| line.containers).sum()
        };
        let line = |line: &capful_domain::facts::OrderLine| OrderLineRow {
            product: line.product.to_string(),
            packs: line.packs,
            supplier_code: line.supplier_code.clone(),
            outstanding: to_come(&line.product),
        };
        Self {
            id: order.id.to_string(),
            placed_at: order.placed_at,
            supplier: order.supplier.to_string(),
            status: status.word(),
            lines: lines.map(line).collect(),
            version,
        }
    }
}

/// How an order stood at a moment, where `later` is the orders of which the first came after it.
fn status(order: &Order, later: &HashSet<Id>) -> OrderStatus {
    match order.status {
        Some(OrderStatus::Received) if later.contains(&order.id) => OrderStatus::Placed,
        status => status.unwrap_or(OrderStatus::Placed),
    }
}

/// Orders of which the first came after a moment.
fn came_later(facts: &Facts, moment: DateTime<Utc>) -> HashSet<Id> {
    let deliveries = OrderBook::of(facts).deliveries.into_iter();
    let later = deliveries.filter(|d| d.first_receipt_at.is_some_and(|at| at > moment));
    later.map(|delivery| delivery.order).collect()
}

/// Which orders.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichOrders {
    /// As it would have been then: a day, or a time. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// Only those that are `placed`, `received` or `cancelled`.
    #[serde(default, deserialize_with = "word")]
    #[param(value_type = schema::AskedOrderStatus, required = false)]
    pub status: Option<OrderStatus>,
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedCursor, required = false)]
    pub after: Option<Cursor>,
}

/// Orders in the order they were written down, each with what is still to come
#[utoipa::path(
    get,
    path = "/api/v1/orders",
    tag = "orders",
    params(WhichOrders),
    responses((status = 200, description = "A page of orders", body = Page<OrderRow>))
)]
pub(crate) async fn list_orders(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichOrders>,
) -> Result<Json<Page<OrderRow>>, Problem> {
    let at = view::asked_moment(&api, &caller, which.as_of).await?;
    let facts = api.store.facts(caller.shop, at).await?;
    let snapshot = Snapshot::of(&facts, at.unwrap_or_else(|| api.now()));
    let later = at.map(|at| came_later(&facts, at)).unwrap_or_default();
    let row = |listed: Versioned<Order>| {
        let order = &listed.row;
        let seen = order.placed_at <= snapshot.moment;
        let status = status(order, &later);
        let wanted = seen && which.status.is_none_or(|wanted| status == wanted);
        wanted.then(|| OrderRow::of(order, status, &snapshot, listed.place.version))
    };
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}
