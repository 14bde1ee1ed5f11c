//! The shop: its calendar, its money and how it wants to be advised.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use capful_domain::{Condition, Shop, VehicleSize, Word};
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::etag;
use crate::params::{Params, When};
use crate::problem::Problem;
use crate::wire;

/// A shop's settings.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct ShopAnswer {
    /// The name on the door.
    pub name: String,
    /// Where days begin and end.
    #[schema(example = "America/Halifax")]
    pub timezone: String,
    /// ISO 4217 code of all its money.
    pub currency: &'static str,
    /// How quantities are shown: `metric` or `us`.
    pub units: &'static str,
    /// The day the weekly order is made.
    pub order_weekday: &'static str,
    /// Weekdays without jobs.
    pub closed: Vec<&'static str>,
    /// Single days without jobs.
    pub closed_days: Vec<NaiveDate>,
    /// One stalled job, where its job type says nothing else.
    pub stall_cost: String,
    /// A year's cost of money and space, as a share of value.
    pub holding_rate: f64,
    /// The chance that a product lasts from one order to the next, at least.
    pub service: f64,
    /// Most to spend on one weekly order; none: no limit.
    pub budget: Option<String>,
    /// How much more a size takes than medium, before anything is learned.
    pub sizes: BTreeMap<&'static str, f64>,
    /// How much more a grade takes than grade 3, before anything is learned.
    #[schema(value_type = BTreeMap<String, f64>)]
    pub conditions: BTreeMap<u8, f64>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl ShopAnswer {
    fn of(shop: &Shop, version: i64) -> Self {
        let size = |size: VehicleSize| (size.word(), wire::number(shop.size_factor(size)));
        let grade = |c: Condition| (c.grade(), wire::number(shop.condition_factor(c)));
        Self {
            name: shop.name.clone(),
            timezone: shop.timezone.name().to_owned(),
            currency: shop.currency.code(),
            units: shop.units.word(),
            order_weekday: shop.order_weekday.word(),
            closed: shop.closed.iter().map(|day| day.word()).collect(),
            closed_days: shop.closed_days.iter().copied().collect(),
            stall_cost: wire::money(shop.stall_cost, shop.currency),
            holding_rate: wire::number(shop.holding_rate),
            service: wire::number(shop.service),
            budget: shop.budget.map(|budget| wire::money(budget, shop.currency)),
            sizes: VehicleSize::ALL.into_iter().map(size).collect(),
            conditions: Condition::all().map(grade).collect(),
            version,
        }
    }
}

/// The shop's settings
#[utoipa::path(
    get,
    path = "/api/v1/shop",
    tag = "setup",
    params(When),
    responses(
        (status = 200, description = "The settings", body = ShopAnswer,
            headers(("ETag" = String, description = "What an edit names as `If-Match`")))
    )
)]
pub(crate) async fn get_shop(
    State(api): State<Api>,
    caller: Caller,
    _when: Params<When>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<ShopAnswer>), Problem> {
    let listed = api.store.shop(caller.shop).await?;
    let version = listed.place.version;
    Ok(([(header::ETAG, etag::tag(version))], Json(ShopAnswer::of(&listed.row, version))))
}
