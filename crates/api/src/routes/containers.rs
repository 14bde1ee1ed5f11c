//! Containers: the shelf, bottle by bottle.

use axum::Json;
use axum::extract::State;
use capful_domain::{AsOf, Container, ContainerState, Id, Product, Shop};
use capful_forecast::plan::AmountIn;
use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, Limit, Page};
use crate::params::{Params, YesOrNo, id, parsed};
use crate::problem::Problem;
use crate::schema;
use crate::view;
use crate::wire;

/// One bottle, jug, tub or bag.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct ContainerRow {
    /// Its name.
    #[schema(example = "R-0412/1")]
    pub id: String,
    /// What is in it.
    pub product: String,
    /// Its lot's batch code, else the row that brought it.
    pub lot: String,
    /// The row that brought it.
    pub source: String,
    /// From whom it came.
    pub supplier: Option<String>,
    /// `open`, `sealed`, `empty` or `discarded`.
    pub state: &'static str,
    /// Parts of water to one part of product, where it is a mix.
    pub water: Option<f64>,
    /// What it holds when full, as product as bought.
    pub size: AmountIn,
    /// What is left, as product as bought.
    pub left: AmountIn,
    /// What a full one cost.
    pub unit_cost: String,
    /// What is left, at cost.
    pub value: String,
    /// When it came, or was mixed.
    pub came_at: DateTime<Utc>,
    /// When it was opened.
    pub opened_at: Option<DateTime<Utc>>,
    /// The date on it.
    pub best_before: Option<NaiveDate>,
    /// The last day it is good.
    pub use_by: Option<NaiveDate>,
}

impl ContainerRow {
    /// A container of a product.
    pub(crate) fn of(container: &Container, product: &Product, shop: &Shop) -> Self {
        let lot = &container.lot;
        Self {
            id: container.id.to_string(),
            product: container.product.to_string(),
            lot: lot.name().to_owned(),
            source: lot.source.to_string(),
            supplier: wire::text(lot.supplier.as_ref()),
            state: match container.state() {
                ContainerState::Open => "open",
                ContainerState::Sealed => "sealed",
                ContainerState::Empty => "empty",
                ContainerState::Discarded => "discarded",
            },
            water: container.mix.map(|ratio| wire::number(ratio.water())),
            size: wire::amount(product, container.size),
            left: wire::amount(product, container.left),
            unit_cost: wire::money(lot.unit_cost, shop.currency),
            value: wire::money(container.value_of(container.left), shop.currency),
            came_at: container.came_at,
            opened_at: container.opened.map(|opened| opened.at),
            best_before: lot.best_before,
            use_by: container.use_by(product),
        }
    }
}

/// Which containers.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichContainers {
    /// As the shelf stood then: a day, or a time. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// Of this product only.
    #[serde(default, deserialize_with = "id")]
    #[param(value_type = schema::AskedId, required = false)]
    pub product: Option<Id>,
    /// `no`: also those in which nothing is left. Without it: `yes`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedAnswer, required = false)]
    pub live: Option<YesOrNo>,
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedContainer, required = false)]
    pub after: Option<String>,
}

/// Containers in the order they came
#[utoipa::path(
    get,
    path = "/api/v1/containers",
    tag = "shelf",
    params(WhichContainers),
    responses((status = 200, description = "A page of containers", body = Page<ContainerRow>))
)]
pub(crate) async fn list_containers(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichContainers>,
) -> Result<Json<Page<ContainerRow>>, Problem> {
    let shelf = view::shelf(&api, &caller, which.as_of, which.product.as_ref()).await?;
    if let Some(product) = which.product.as_ref().filter(|id| !shelf.products.contains_key(id)) {
        return Err(Problem::query("product", format!("there is no product `{product}`")));
    }
    let all = which.live == Some(YesOrNo::No);
    let is_wanted = |container: &Container| all || container.is_live();
    let (rows, after) = (shelf.containers, which.after.as_deref());
    let page = page::of_list(rows, after, which.limit, |row| row.id.as_str(), is_wanted)?;
    Ok(Json(page.map(|container| {
        let product = shelf.products.get(&container.product)?;
        Some(ContainerRow::of(&container, product, &shelf.shop))
    })))
}
