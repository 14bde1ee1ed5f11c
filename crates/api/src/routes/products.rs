//! Products: what is bought again under one rule, and how each stands.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use capful_domain::{Container, NamedRatio, Product, Quantity, Shop, Word};
use capful_forecast::plan::{AmountIn, ProductOutlook};
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::etag;
use crate::page::{self, Page, WhichPage};
use crate::params::{Params, WhichPlan};
use crate::path::Named;
use crate::plans;
use crate::problem::Problem;
use crate::routes::containers::ContainerRow;
use crate::schema;
use crate::view;
use crate::wire;

/// What is bought again under one rule.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct ProductRow {
    /// The shop's own id.
    #[schema(example = "iron-remover")]
    pub id: String,
    /// The name on the shelf.
    pub name: String,
    /// The unit of its quantities.
    #[schema(example = "mL")]
    pub unit: &'static str,
    /// What a full container holds, in `unit`.
    pub container_size: f64,
    /// A word to group by.
    pub category: Option<String>,
    /// `ready` or `concentrate`.
    pub form: &'static str,
    /// Life sealed, in days from receipt, where the lot gives no date.
    pub shelf_days: Option<u32>,
    /// Life once opened, in days.
    pub open_days: Option<u32>,
    /// Life of a mix, in days.
    pub mix_days: Option<u32>,
    /// Grams in a millilitre.
    pub density_g_ml: Option<f64>,
    /// Weight of the empty container, in grams.
    pub tare_g: Option<f64>,
    /// The number in its barcode.
    pub gtin: Option<String>,
    /// GHS pictogram codes and H-statements.
    pub hazards: Vec<String>,
    /// What to wear or switch on.
    pub protection: Vec<String>,
    /// Products that serve in its place, best first.
    pub substitutes: Vec<String>,
    /// Anything else.
    pub notes: Option<String>,
    /// The ratios that it is used at.
    pub ratios: Vec<RatioRow>,
    /// What an edit names as `If-Match`, in quotes.
    pub version: i64,
}

/// A ratio that a product is used at.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct RatioRow {
    /// What the shop calls it.
    pub label: String,
    /// Parts of water to one part of product.
    pub water: f64,
}

impl ProductRow {
    fn of(product: &Product, ratios: &[NamedRatio], version: i64) -> Self {
        let own = ratios.iter().filter(|ratio| ratio.product == product.id);
        let ratio = |ratio: &NamedRatio| RatioRow {
            label: ratio.label.clone(),
            water: wire::number(ratio.ratio.water()),
        };
        Self {
            id: product.id.to_string(),
            name: product.name.clone(),
            unit: product.unit.symbol(),
            container_size: wire::number(product.size().in_unit(product.unit)),
            category: product.category.clone(),
            form: product.form.word(),
            shelf_days: product.shelf_days,
            open_days: product.open_days,
            mix_days: product.mix_days,
            density_g_ml: product.density_g_ml.map(wire::number),
            tare_g: product.tare_g.map(wire::number),
            gtin: product.gtin.clone(),
            hazards: product.hazards.clone(),
            protection: product.protection.clone(),
            substitutes: wire::texts(&product.substitutes),
            notes: product.notes.clone(),
            ratios: own.map(ratio).collect(),
            version,
        }
    }
}

/// Products in the order they were set up
#[utoipa::path(
    get,
    path = "/api/v1/products",
    tag = "setup",
    params(WhichPage),
    responses((status = 200, description = "A page of products", body = Page<ProductRow>))
)]
pub(crate) async fn list_products(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichPage>,
) -> Result<Json<Page<ProductRow>>, Problem> {
    let ratios = ratios(&api, &caller).await?;
    let row = |listed: capful_store::Versioned<Product>| {
        Some(ProductRow::of(&listed.row, &ratios, listed.place.version))
    };
    Ok(Json(page::of_table(&api, &caller, which.after, which.limit, row).await?))
}

async fn ratios(api: &Api, caller: &Caller) -> Result<Vec<NamedRatio>, Problem> {
    let listed = page::whole::<NamedRatio>(api, caller).await?;
    Ok(listed.into_iter().map(|listed| listed.row).collect())
}

/// A product and how it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct ProductAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// What it is.
    #[serde(flatten)]
    pub product: ProductRow,
    /// Everything left, past its use-by or not.
    pub left: AmountIn,
    /// What was taken beyond what the books held since the last count: it wants a count.
    pub found_stock: Option<AmountIn>,
    /// Containers with something in them, in the order they are poured.
    pub containers: Vec<ContainerRow>,
    /// Lots of which something is left.
    pub lots: Vec<LotRow>,
    /// Its stock, demand and order levels, as in the plan.
    pub outlook: Option<ProductOutlook>,
}

/// What came in one receipt under one batch code.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct LotRow {
    /// Its batch code, else the row that brought it.
    pub lot: String,
    /// The row that brought it.
    pub source: String,
    /// From whom it came.
    pub supplier: Option<String>,
    /// The date on its containers.
    pub best_before: Option<NaiveDate>,
    /// What one container cost.
    pub unit_cost: String,
    /// Containers of it with something in them.
    pub containers: u32,
    /// What is left of it.
    pub left: AmountIn,
}

/// A product, its containers and lots, and its outlook
#[utoipa::path(
    get,
    path = "/api/v1/products/{id}",
    tag = "shelf",
    params(("id" = schema::Id, Path, description = "The product's id"), WhichPlan),
    responses(
        (status = 200, description = "The product", body = ProductAnswer,
            headers(("ETag" = String, description = "What an edit names as `If-Match`")))
    )
)]
pub(crate) async fn get_product(
    State(api): State<Api>,
    caller: Caller,
    Named(id): Named,
    Params(which): Params<WhichPlan>,
) -> Result<([(header::HeaderName, HeaderValue); 1], Json<ProductAnswer>), Problem> {
    let listed = api.store.get::<Product>(caller.shop, id.as_str()).await?;
    let (version, product) = (listed.place.version, listed.row);
    let ratios = ratios(&api, &caller).await?;
    let (snapshot, ledger) = view::books(&api, &caller, which.as_of).await?;
    let plan = plans::planned(&api, &caller, which).await?;
    let shop = &snapshot.facts.shop;
    let live = ledger.live_containers(&id, snapshot.day);
    let found = ledger.found_stock().remove(&id);
    let answer = ProductAnswer {
        as_of: snapshot.day,
        left: wire::amount(&product, ledger.left_of(&id)),
        found_stock: found.map(|found| wire::amount(&product, found.surplus)),
        containers: live.iter().map(|c| ContainerRow::of(c, &product, shop)).collect(),
        lots: lots(&live, &product, shop),
        outlook: plan.products.iter().find(|row| row.product == id.as_str()).cloned(),
        product: ProductRow::of(&product, &ratios, version),
    };
    Ok(([(header::ETAG, etag::tag(version))], Json(answer)))
}

fn lots(live: &[&Container], product: &Product, shop: &Shop) -> Vec<LotRow> {
    let mut by_source: BTreeMap<_, Vec<&Container>> = BTreeMap::new();
    for container in live {
        by_source.entry(&container.lot.source).or_default().push(container);
    }
    let lots = by_source.into_iter().filter_map(|(source, containers)| {
        let lot = &containers.first()?.lot;
        let left: Quantity = containers.iter().map(|container| container.left).sum();
        Some(LotRow {
            lot: lot.name().to_owned(),
            source: source.to_string(),
            supplier: wire::text(lot.supplier.as_ref()),
            best_before: lot.best_before,
            unit_cost: wire::money(lot.unit_cost, shop.currency),
            containers: u32::try_from(containers.len()).unwrap_or(u32::MAX),
            left: wire::amount(product, left),
        })
    });
    lots.collect()
}
