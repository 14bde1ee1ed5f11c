//! Costs, for who owns the shop: what jobs of each type cost in product against their price, and
//! what was thrown away, month by month.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::costs::{
    JobTypeCost, Waste, WasteReason, job_type_costs, waste_by_month, waste_by_reason,
};
use capful_domain::{Money, Snapshot, Word};
use chrono::NaiveDate;
use rust_decimal::prelude::ToPrimitive;

use crate::api::Api;
use crate::pages::amounts::percent;
use crate::pages::drawing;
use crate::pages::frame::{Frame, Measures, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Owner;
use crate::problem::Problem;
use crate::view;

/// Months that are shown, the last first.
const MONTHS: usize = 13;

#[derive(Template)]
#[template(path = "costs.html")]
struct CostsPage {
    frame: Frame,
    types: Vec<TypeLine>,
    total: String,
    months: Vec<Month>,
}

/// What a job of one type costs in product.
struct TypeLine {
    name: String,
    jobs: u32,
    mean: String,
    price: Option<String>,
    /// What its price leaves once the product is paid, and what share of the price that is.
    margin: Option<String>,
    drawing: String,
}

/// What was thrown away in a month.
struct Month {
    name: String,
    total: String,
    reasons: Vec<(String, String)>,
    products: Vec<(String, String, String)>,
}

/// `GET /costs`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let (snapshot, ledger) = view::books(&api, &visitor.caller, None).await?;
    let costs = job_type_costs(&snapshot, &ledger);
    let measures = Measures::of(&snapshot.facts.shop);
    let mut months: BTreeMap<NaiveDate, Vec<Waste>> = BTreeMap::new();
    for waste in waste_by_month(&snapshot, &ledger) {
        months.entry(waste.month).or_default().push(waste);
    }
    let reasons = waste_by_reason(&snapshot, &ledger);
    let month =
        |(month, waste): (&NaiveDate, &Vec<Waste>)| Month::of(*month, waste, &reasons, &snapshot);
    let title = words().say("costs-title");
    page(&CostsPage {
        frame: Frame::of(&api, &visitor, Place::Jobs, title, "/costs").await?,
        types: costs.iter().map(|cost| TypeLine::of(cost, &snapshot)).collect(),
        total: measures.money(costs.iter().map(|cost| cost.total).sum()),
        months: months.iter().rev().take(MONTHS).map(month).collect(),
    })
}

impl TypeLine {
    fn of(cost: &JobTypeCost, snapshot: &Snapshot) -> Self {
        let measures = Measures::of(&snapshot.facts.shop);
        let own = snapshot.facts.job_types.iter().find(|own| own.id == cost.job_type);
        let price = own.and_then(|own| own.price).filter(|price| *price > Money::ZERO);
        let share = |price: Money| share(price - cost.mean, price);
        let text = |price: Money| {
            words()
                .say("costs-margin")
                .with("money", measures.money(price - cost.mean))
                .with("share", percent(share(price)))
                .to_string()
        };
        let margin = price.map(text);
        Self {
            name: own.map_or_else(|| cost.job_type.to_string(), |own| own.name.clone()),
            jobs: cost.jobs,
            mean: measures.money(cost.mean),
            drawing: price
                .map(|price| drawing::part(share(price), margin.as_deref().unwrap_or_default()))
                .unwrap_or_default(),
            price: price.map(|price| measures.money(price)),
            margin,
        }
    }
}

/// One amount of money as a share of another.
fn share(part: Money, whole: Money) -> f64 {
    let number = |money: Money| money.minor().to_f64().unwrap_or_default();
    if whole > Money::ZERO { number(part) / number(whole) } else { 0.0 }
}

impl Month {
    fn of(month: NaiveDate, waste: &[Waste], reasons: &[WasteReason], snapshot: &Snapshot) -> Self {
        let measures = Measures::of(&snapshot.facts.shop);
        let mut reasons: Vec<&WasteReason> = reasons.iter().filter(|r| r.month == month).collect();
        reasons.sort_by_key(|own| std::cmp::Reverse(own.cost));
        let reason = |own: &WasteReason| {
            let word = own.reason.map_or("unknown", Word::word);
            let name = words().say(&format!("waste-{word}")).to_string();
            (name, measures.money(own.cost))
        };
        let mut waste: Vec<&Waste> = waste.iter().collect();
        waste.sort_by_key(|own| std::cmp::Reverse(own.cost));
        let product = |own: &Waste| {
            let product = snapshot.facts.products.iter().find(|p| p.id == own.product)?;
            let amount = measures.quantity(own.quantity, product);
            Some((product.name.clone(), amount, measures.money(own.cost)))
        };
        Self {
            name: month.format("%B %Y").to_string(),
            total: measures.money(waste.iter().map(|own| own.cost).sum()),
            reasons: reasons.into_iter().map(reason).collect(),
            products: waste.into_iter().filter_map(product).collect(),
        }
    }
}
