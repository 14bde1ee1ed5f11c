//! Where the shop stands: what is set up, and the next step of each part.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, JobType, Offer, SheetRow, Supplier, Word};

use crate::api::Api;
use crate::known::known;
use crate::page;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Owner;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/overview.html")]
struct OverviewPage {
    frame: Frame,
    parts: Vec<Part>,
    /// Whether a kind of row that the starting set has is empty.
    offers_set: bool,
}

/// One part of the setup.
struct Part {
    name: String,
    path: &'static str,
    /// How much is there.
    stands: String,
    /// What to do next.
    next: String,
    is_done: bool,
}

/// `GET /setup`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let t = words();
    let known = known(&api, &visitor.caller).await?;
    let suppliers = page::whole::<Supplier>(&api, &visitor.caller).await?.len();
    let offers = page::whole::<Offer>(&api, &visitor.caller).await?;
    let types = page::whole::<JobType>(&api, &visitor.caller).await?;
    let sheet = page::whole::<SheetRow>(&api, &visitor.caller).await?;
    let offered: BTreeSet<&Id> = offers.iter().map(|listed| &listed.row.product).collect();
    let sheeted: BTreeSet<&Id> = sheet.iter().map(|listed| &listed.row.job_type).collect();
    let unoffered = known.products.keys().filter(|id| !offered.contains(id)).count();
    let empty = types.iter().filter(|listed| !sheeted.contains(&listed.row.id)).count();
    let shop = &known.shop;
    let day = t.say(&format!("weekday-{}", shop.order_weekday.word())).to_string();
    let stands = |name: &'static str, count: usize, rows: usize| {
        t.say(name).with("count", count).with("rows", rows).to_string()
    };
    let part = |name, path, stands, next: &str, left: usize| Part {
        name: t.say(name).to_string(),
        path,
        stands,
        next: t.say(next).with("count", left).to_string(),
        is_done: left == 0,
    };
    let zone = t.say("setup-shop-stands").with("zone", shop.timezone.name()).with("day", day);
    let next = |count: usize, left: usize, none, some, all| match (count, left) {
        (0, _) => (none, 1),
        (_, 0) => (all, 0),
        (_, left) => (some, left),
    };
    let products = known.products.len();
    let (of_products, products_left) = next(
        products,
        unoffered,
        "setup-products-none",
        "setup-products-some",
        "setup-products-all",
    );
    let (of_types, types_left) =
        next(types.len(), empty, "setup-types-none", "setup-types-some", "setup-types-all");
    let (of_suppliers, suppliers_left) = next(
        suppliers,
        usize::from(offers.is_empty()),
        "setup-suppliers-none",
        "setup-offers-none",
        "setup-suppliers-all",
    );
    let parts = vec![
        part("setup-shop", "/setup/shop", zone.to_string(), "setup-shop-next", 0),
        part(
            "products-title",
            "/setup/products",
            stands("setup-products", products, 0),
            of_products,
            products_left,
        ),
        part(
            "job-types-title",
            "/setup/job-types",
            stands("setup-types", types.len(), sheet.len()),
            of_types,
            types_left,
        ),
        part(
            "suppliers-title",
            "/setup/suppliers",
            stands("setup-suppliers", suppliers, offers.len()),
            of_suppliers,
            suppliers_left,
        ),
    ];
    let offers_set = known.products.is_empty() || types.is_empty();
    let frame = Frame::of(&api, &visitor, Place::More, t.say("setup-title"), "/setup").await?;
    page(&OverviewPage { frame, parts, offers_set })
}
