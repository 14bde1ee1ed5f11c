//! Orders: placed, called off, or over.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use capful_domain::Word;
use capful_domain::facts::{Order, OrderLine, OrderStatus};
use capful_store::{Change, Effects};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use super::answer::created;
use crate::api::Api;
use crate::auth::Caller;
use crate::known::known;
use crate::once::{self, Once};
use crate::path::Named;
use crate::problem::{Kind, Problem};
use crate::schema;
use crate::written::{NoBody, OrderBody, Reader, refusal};

/// An order as it was written down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct PlacedAnswer {
    /// The shop's own id.
    pub id: String,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
    /// With whom.
    pub supplier: String,
    /// `placed`, `received` or `cancelled`.
    pub status: &'static str,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl PlacedAnswer {
    fn of(order: &Order, status: OrderStatus, outcome: &Effects) -> Self {
        Self {
            id: order.id.to_string(),
            placed_at: order.placed_at,
            supplier: order.supplier.to_string(),
            status: status.word(),
            version: outcome.version.unwrap_or_default(),
        }
    }
}

/// An order was placed with a supplier
#[utoipa::path(
    post,
    path = "/api/v1/orders",
    tag = "orders",
    params(once::Headers),
    request_body = OrderBody,
    responses((status = 201, description = "The order", body = PlacedAnswer))
)]
pub(crate) async fn order(
    State(api): State<Api>,
    caller: Caller,
    once: Once<OrderBody>,
) -> Result<Response, Problem> {
    let known = known(&api, &caller).await?;
    let asked = once.asked(&caller, api.now());
    let mut reader = Reader::new(&api, &known, asked.now);
    let read = once.body.read(&mut reader);
    let (order, lines): (Order, Vec<OrderLine>) = reader.end(read)?;
    let answer =
        |outcome: &Effects| created(&PlacedAnswer::of(&order, OrderStatus::Placed, outcome));
    let change = Change::PlaceOrder(order.clone(), lines);
    let done = api.store.change(&asked, &change, answer).await;
    Ok(once::reply(&done.map_err(|error| refusal(error, None))?))
}

/// Nothing of an order will come
#[utoipa::path(
    post,
    path = "/api/v1/orders/{id}/cancel",
    tag = "orders",
    params(("id" = schema::Id, Path, description = "The order's id"), once::MoveHeaders),
    request_body = Option<NoBody>,
    responses((status = 200, description = "The order", body = PlacedAnswer))
)]
pub(crate) async fn cancel_order(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<Option<NoBody>>,
) -> Result<Response, Problem> {
    let order = api.store.get::<Order>(caller.shop, id.as_str()).await?.row;
    if order.status == Some(OrderStatus::Received) {
        let text =
            format!("order {id} is received: one of which something is to come is cancelled");
        return Err(Problem::new(Kind::Refused, text));
    }
    set_order(&api, &caller, &once, &order, OrderStatus::Cancelled).await
}

/// All that will come of an order has come
#[utoipa::path(
    post,
    path = "/api/v1/orders/{id}/end",
    tag = "orders",
    params(("id" = schema::Id, Path, description = "The order's id"), once::MoveHeaders),
    request_body = Option<NoBody>,
    responses((status = 200, description = "The order", body = PlacedAnswer))
)]
pub(crate) async fn end_order(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    once: Once<Option<NoBody>>,
) -> Result<Response, Problem> {
    let order = api.store.get::<Order>(caller.shop, id.as_str()).await?.row;
    set_order(&api, &caller, &once, &order, OrderStatus::Received).await
}

async fn set_order(
    api: &Api,
    caller: &Caller,
    once: &Once<Option<NoBody>>,
    order: &Order,
    status: OrderStatus,
) -> Result<Response, Problem> {
    let change = Change::SetOrder { order: order.id.clone(), status };
    let answer =
        |outcome: &Effects| once::answer(StatusCode::OK, &PlacedAnswer::of(order, status, outcome));
    let done = api.store.change(&once.asked(caller, api.now()), &change, answer).await;
    let own = Some(("order", order.id.as_str()));
    Ok(once::reply(&done.map_err(|error| refusal(error, own))?))
}
