//! Who orders: the plan, the plan that is told the truth, and the rules of textbook and thumb.

use std::collections::BTreeMap;

use capful_domain::{Id, Offer, Product, Snapshot};
use capful_forecast::inventory::{ProtectionDemand, Service};
use capful_forecast::{GivenUsage, PlanSettings, plan, plan_given_usage};
use capful_simulation::{Buyer, Buys, Seen, Truth};

/// Orders what the plan says.
pub struct Planned {
    pub settings: PlanSettings,
    /// Whether it is told what jobs truly take.
    pub told: bool,
}

impl Planned {
    pub fn new(told: bool) -> Self {
        Self { settings: PlanSettings::default(), told }
    }
}

pub fn told(facts: &capful_domain::Facts, truth: &Truth, week: u32) -> Vec<GivenUsage> {
    let pairs = truth.pairs.iter();
    let changed = |product: usize| {
        let changes = truth.thirsts[product].changes;
        changes.filter(|(from, _)| week >= *from).map_or(1.0, |(_, factor)| factor)
    };
    pairs
        .map(|pair| {
            let thirst = &truth.thirsts[pair.product];
            // Whole pieces: rounding up or down by chance adds a variance of a sixth of a piece
            // on average.
            let rounding = if thirst.whole { 1.0 / 6.0 / pair.mean.powi(2) } else { 0.0 };
            GivenUsage {
                job_type: facts.job_types[pair.job_type].id.clone(),
                product: facts.products[pair.product].id.clone(),
                mean: pair.mean * changed(pair.product),
                share: pair.share,
                cv: (thirst.cv.powi(2) + rounding).sqrt(),
                size_exponent: thirst.size_exponent,
                condition_exponent: thirst.condition_exponent,
            }
        })
        .collect()
}

impl Buyer for Planned {
    fn buys(&mut self, seen: &Seen<'_>) -> Vec<Buys> {
        let snapshot = Snapshot::of(seen.facts, seen.moment);
        let made = if self.told {
            let week = u32::try_from(seen.weekly.len()).unwrap_or(0);
            plan_given_usage(&snapshot, &self.settings, 1, &told(seen.facts, seen.truth, week))
        } else {
            plan(&snapshot, &self.settings, 1)
        };
        let id = |text: &str| Id::parse(text).unwrap();
        let orders = made.weekly_order.orders.iter();
        orders
            .map(|order| Buys {
                supplier: id(&order.supplier),
                lines: order.lines.iter().map(|l| (id(&l.product), l.packs)).collect(),
            })
            .collect()
    }
}

/// Textbook periodic review, order-up-to-level (Silver, Pyke & Thomas, §6.10), at 99 %, from the
/// weekly use of the last half year as it truly was, and the true stock.
pub struct Textbook {
    pub grouping: Grouping,
}

/// When a supplier is ordered from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grouping {
    /// At every review, whatever is below its level.
    None,
    /// Only when one of its products would not last until an order of the next review is there;
    /// then all of its products are filled up for two reviews.
    TwoReviews,
    /// The same, filled up for as long as freight and holding cost least together: more than the
    /// textbook's rule for one product has, and the strongest of the three.
    LeastCost,
}

const REVIEW_WEEKS: f64 = 1.0;

/// What one offer's product needs.
struct Need<'a> {
    product: &'a Product,
    offer: &'a Offer,
    packs: u32,
    pressing: bool,
}

fn base(product: &Product) -> f64 {
    product.size().ledger_units() as f64 / 1000.0
}

fn preferred<'a>(seen: &Seen<'a>, product: &Product) -> Option<&'a Offer> {
    let facts = seen.facts;
    facts.offers.iter().find(|offer| offer.product == product.id && offer.preferred)
}

impl Textbook {
    fn need<'a>(&self, seen: &Seen<'a>, place: usize) -> Option<Need<'a>> {
        let product = &seen.facts.products[place];
        let offer = preferred(seen, product)?;
        let supplier = seen.facts.suppliers.iter().find(|s| s.id == offer.supplier)?;
        let recent = &seen.weekly[seen.weekly.len().saturating_sub(26)..];
        let weeks = recent.len().max(2) as f64;
        let mean = recent.iter().map(|week| week[place]).sum::<f64>() / weeks;
        let squares: f64 = recent.iter().map(|week| (week[place] - mean).powi(2)).sum();
        let sd = (squares / (weeks - 1.0)).sqrt();
        let lead = f64::try_from(supplier.lead_days).unwrap_or(4.0) / 7.0;
        let service = Service::new(0.99).unwrap();
        let level = |periods: f64| {
            let over = ProtectionDemand::new(mean * periods, sd * periods.sqrt());
            over.map_or(0.0, |demand| demand.order_up_to(service))
        };
        let there = seen.on_hand[place] + seen.on_order[place];
        let cycle = match self.grouping {
            Grouping::None => REVIEW_WEEKS,
            Grouping::TwoReviews => 2.0 * REVIEW_WEEKS,
            Grouping::LeastCost => cycle_weeks(seen, supplier),
        };
        let up_to = level(lead + cycle.max(REVIEW_WEEKS));
        let pressing = there < level(lead + REVIEW_WEEKS);
        let pack = base(product) * f64::from(offer.pack);
        let packs = ((up_to - there) / pack).ceil().max(0.0) as u32;
        Some(Need { product, offer, packs, pressing: pressing && packs > 0 })
    }
}

/// Economic order interval of a supplier's products together (Silver, Pyke & Thomas, §4.2 as a
/// time), in whole weeks.
fn cycle_weeks(seen: &Seen<'_>, supplier: &capful_domain::Supplier) -> f64 {
    let weeks = seen.weekly.len().clamp(1, 26);
    let recent = &seen.weekly[seen.weekly.len().saturating_sub(weeks)..];
    let mut a_week = 0.0;
    for (place, product) in seen.facts.products.iter().enumerate() {
        let Some(offer) = preferred(seen, product).filter(|o| o.supplier == supplier.id) else {
            continue;
        };
        let price = offer.price.minor() as f64 / 100.0 / f64::from(offer.pack) / base(product);
        a_week += price * recent.iter().map(|w| w[place]).sum::<f64>() / weeks as f64;
    }
    let rate = f64::try_from(seen.facts.shop.holding_rate).unwrap_or(0.25) / 52.0;
    let freight = supplier.freight.minor() as f64 / 100.0;
    (2.0 * freight / (rate * a_week.max(0.01))).sqrt().round().clamp(1.0, 8.0)
}

fn by_supplier(needs: Vec<Need<'_>>) -> Vec<Buys> {
    let mut buys: BTreeMap<Id, Vec<(Id, u32)>> = BTreeMap::new();
    for need in needs.into_iter().filter(|need| need.packs > 0) {
        let lines = buys.entry(need.offer.supplier.clone()).or_default();
        lines.push((need.product.id.clone(), need.packs));
    }
    buys.into_iter().map(|(supplier, lines)| Buys { supplier, lines }).collect()
}

impl Buyer for Textbook {
    fn buys(&mut self, seen: &Seen<'_>) -> Vec<Buys> {
        let places = 0..seen.facts.products.len();
        let mut needs: Vec<Need<'_>> = places.filter_map(|p| self.need(seen, p)).collect();
        if self.grouping != Grouping::None {
            let pressed: Vec<Id> =
                needs.iter().filter(|n| n.pressing).map(|n| n.offer.supplier.clone()).collect();
            needs.retain(|need| pressed.contains(&need.offer.supplier));
        }
        by_supplier(needs)
    }
}

/// "Always have two of everything": what falls below two containers is filled up to two.
pub struct KeepTwo;

impl Buyer for KeepTwo {
    fn buys(&mut self, seen: &Seen<'_>) -> Vec<Buys> {
        let need = |place: usize| {
            let product = &seen.facts.products[place];
            let there = (seen.on_hand[place] + seen.on_order[place]) / base(product);
            let offer = preferred(seen, product)?;
            let missing = (2.0 - there).max(0.0).ceil();
            let packs = (missing / f64::from(offer.pack)).ceil() as u32;
            Some(Need { product, offer, packs, pressing: packs > 0 })
        };
        by_supplier((0..seen.facts.products.len()).filter_map(need).collect())
    }
}
