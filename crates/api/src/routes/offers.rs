//! Offers: the ways to buy a product.

use axum::Json;
use axum::extract::State;
use capful_domain::{Currency, Offer};
use capful_store::Versioned;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, Page, WhichPage};
use crate::params::Params;
use crate::problem::Problem;
use crate::wire;

/// One way to buy one product.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct OfferRow {
    /// Who sells.
    pub supplier: String,
    /// What.
    pub product: String,
    /// Containers in a pack.
    pub pack: u32,
    /// Price of the pack.
    pub price: String,
    /// The supplier's code.
    pub code: Option<String>,
    /// The least packs that it sells.
    pub minimum_packs: u32,
    /// Whether the shop would rather buy it here.
    pub preferred: bool,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

impl OfferRow {
    fn of(offer: &Offer, currency: Currency, version: i64) -> Self {
        Self {
            supplier: offer.supplier.to_string(),
            product: offer.product.to_string(),
            pack: offer.pack,
            price: wire::money(offer.price, currency),
            code: offer.code.clone(),
            minimum_packs: offer.minimum_packs,
            preferred: offer.preferred,
            version,
        }
    }
}

/// Offers in the order they were set up
#[utoipa::path(
    get,
    path = "/api/v1/offers",
    tag = "setup",
    params(WhichPage),
    responses((status = 200, description = "A page of offers", body = Page<OfferRow>))
)]
pub(crate) async fn list_offers(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPage>,
) -> Result<Json<Page<OfferRow>>, Problem> {
    let currency = api.store.shop(caller.shop).await?.row.currency;
    let row =
        |listed: Versioned<Offer>| Some(OfferRow::of(&listed.row, currency, listed.place.version));
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}
