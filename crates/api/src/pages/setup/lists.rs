//! Lists of what is set up: suppliers, products, job types.

use std::collections::{BTreeMap, BTreeSet};

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, JobType, Offer, SheetRow, Supplier};

use crate::api::Api;
use crate::known::known;
use crate::page;
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/list.html")]
struct ListPage {
    frame: Frame,
    /// What the list is of, in an address.
    kind: &'static str,
    add: String,
    text: String,
    empty: String,
    rows: Vec<Row>,
    /// Whether the starting set has some of these.
    has_set: bool,
}

struct Row {
    id: String,
    name: String,
    what: String,
    /// What is still missing.
    missing: String,
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    kind: &'static str,
    rows: Vec<Row>,
) -> Result<Response, Problem> {
    let t = words();
    let told = |end: &str| t.say(&format!("{kind}-{end}")).to_string();
    let path = format!("/setup/{kind}");
    let frame = Frame::of(api, visitor, Place::More, told("title"), path).await?;
    let (add, text, empty) = (told("add"), told("text"), told("empty"));
    let has_set = kind != "suppliers";
    page(&ListPage { frame, kind, add, text, empty, rows, has_set })
}

/// `GET /setup/suppliers`
pub(crate) async fn suppliers(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let t = words();
    let offers = page::whole::<Offer>(&api, &visitor.caller).await?;
    let all = page::whole::<Supplier>(&api, &visitor.caller).await?;
    let row = |supplier: Supplier| {
        let own = offers.iter().filter(|listed| listed.row.supplier == supplier.id).count();
        let what = t.say("suppliers-what").with("days", supplier.lead_days).with("offers", own);
        let missing =
            if own == 0 { t.say("suppliers-no-offer").to_string() } else { String::new() };
        Row { id: supplier.id.to_string(), name: supplier.name, what: what.to_string(), missing }
    };
    let rows = all.into_iter().map(|listed| row(listed.row)).collect();
    shown(&api, &visitor, "suppliers", rows).await
}

/// `GET /setup/products`
pub(crate) async fn products(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let t = words();
    let known = known(&api, &visitor.caller).await?;
    let measures = Measures::of(&known.shop);
    let offers = page::whole::<Offer>(&api, &visitor.caller).await?;
    let offered: BTreeSet<&Id> = offers.iter().map(|listed| &listed.row.product).collect();
    let mut rows = Vec::new();
    for product in known.products.values() {
        let mut what = vec![measures.quantity(product.size(), product)];
        what.extend(product.category.clone());
        if let Some(days) = product.open_days {
            what.push(t.say("start-open").with("days", days).to_string());
        }
        let has_offer = offered.contains(&product.id);
        rows.push(Row {
            id: product.id.to_string(),
            name: product.name.clone(),
            what: what.join(" · "),
            missing: match has_offer {
                true => String::new(),
                false => t.say("products-no-offer").to_string(),
            },
        });
    }
    rows.sort_by_key(|row| row.name.to_lowercase());
    shown(&api, &visitor, "products", rows).await
}

/// `GET /setup/job-types`
pub(crate) async fn job_types(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let t = words();
    let known = known(&api, &visitor.caller).await?;
    let measures = Measures::of(&known.shop);
    let sheet = page::whole::<SheetRow>(&api, &visitor.caller).await?;
    let mut uses: BTreeMap<&Id, usize> = BTreeMap::new();
    for listed in &sheet {
        *uses.entry(&listed.row.job_type).or_default() += 1;
    }
    let all = page::whole::<JobType>(&api, &visitor.caller).await?;
    let row = |own: &JobType| {
        let count = uses.get(&own.id).copied().unwrap_or_default();
        let mut what = vec![t.say("job-types-what").with("count", count).to_string()];
        what.extend(own.price.map(|price| measures.money(price)));
        let missing =
            if count == 0 { t.say("job-types-no-sheet").to_string() } else { String::new() };
        Row { id: own.id.to_string(), name: own.name.clone(), what: what.join(" · "), missing }
    };
    let rows = all.iter().map(|listed| row(&listed.row)).collect();
    shown(&api, &visitor, "job-types", rows).await
}
