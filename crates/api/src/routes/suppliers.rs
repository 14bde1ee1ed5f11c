//! Suppliers: who sells.

use axum::Json;
use axum::extract::State;
use capful_domain::{Currency, Supplier, Word};
use capful_store::Versioned;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, Page, WhichPage};
use crate::params::Params;
use crate::problem::Problem;
use crate::wire;

/// Who sells.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct SupplierRow {
    /// The shop's own id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Days from order to shelf, as the supplier says.
    pub lead_days: f64,
    /// How much that varies (standard deviation, days).
    pub lead_days_sd: Option<f64>,
    /// Weekdays on which it takes orders; none: any.
    pub order_weekdays: Vec<&'static str>,
    /// What one delivery costs.
    pub freight: String,
    /// Goods from this value on come freight free.
    pub free_freight_over: Option<String>,
    /// The least value of goods that it takes an order for.
    pub minimum_order: String,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl SupplierRow {
    fn of(supplier: &Supplier, currency: Currency, version: i64) -> Self {
        Self {
            id: supplier.id.to_string(),
            name: supplier.name.clone(),
            lead_days: wire::number(supplier.lead_days),
            lead_days_sd: supplier.lead_days_sd.map(wire::number),
            order_weekdays: supplier.order_weekdays.iter().map(|day| day.word()).collect(),
            freight: wire::money(supplier.freight, currency),
            free_freight_over: supplier.free_freight_over.map(|over| wire::money(over, currency)),
            minimum_order: wire::money(supplier.minimum_order, currency),
            version,
        }
    }
}

/// Suppliers in the order they were set up
#[utoipa::path(
    get,
    path = "/api/v1/suppliers",
    tag = "setup",
    params(WhichPage),
    responses((status = 200, description = "A page of suppliers", body = Page<SupplierRow>))
)]
pub(crate) async fn list_suppliers(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPage>,
) -> Result<Json<Page<SupplierRow>>, Problem> {
    let currency = api.store.shop(caller.shop).await?.row.currency;
    let row = |listed: Versioned<Supplier>| {
        Some(SupplierRow::of(&listed.row, currency, listed.place.version))
    };
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}
