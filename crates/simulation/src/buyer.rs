//! Whoever places the weekly order.

use capful_domain::{Facts, Id};
use chrono::{DateTime, NaiveDate, Utc};

use crate::truth::Truth;

/// What a buyer may look at. An honest one looks at `facts` only.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// What is written down.
    pub facts: &'a Facts,
    /// Now, before the shop opens.
    pub moment: DateTime<Utc>,
    /// Today.
    pub day: NaiveDate,
    /// What is truly so.
    pub truth: &'a Truth,
    /// What truly stands on the shelf of each product, base units.
    pub on_hand: &'a [f64],
    /// What is on its way of each product, base units.
    pub on_order: &'a [f64],
    /// What jobs truly took of each product, week by week from the first on, base units.
    pub weekly: &'a [Vec<f64>],
}

/// One order.
#[derive(Debug, Clone, PartialEq)]
pub struct Buys {
    /// With whom.
    pub supplier: Id,
    /// Products and packs.
    pub lines: Vec<(Id, u32)>,
}

/// Places the weekly order.
pub trait Buyer {
    /// What to order today.
    fn buys(&mut self, seen: &Seen<'_>) -> Vec<Buys>;
}

/// How an owner without advice buys: what would not last some weeks is filled up for some more, at
/// the preferred supplier, going by the last weeks' real use.
#[derive(Debug, Clone)]
pub struct OwnersRule {
    /// Weeks that it has to last.
    pub least_weeks: f64,
    /// Weeks that it is filled up for.
    pub most_weeks: f64,
}

impl Default for OwnersRule {
    fn default() -> Self {
        Self { least_weeks: 2.5, most_weeks: 5.0 }
    }
}

impl Buyer for OwnersRule {
    fn buys(&mut self, seen: &Seen<'_>) -> Vec<Buys> {
        let weeks = seen.weekly.len().clamp(1, 13);
        let recent = &seen.weekly[seen.weekly.len().saturating_sub(weeks)..];
        let mut buys: Vec<Buys> = Vec::new();
        for (place, product) in seen.facts.products.iter().enumerate() {
            let use_a_week = recent.iter().map(|week| week[place]).sum::<f64>() / weeks as f64;
            let there = seen.on_hand[place] + seen.on_order[place];
            let offer = seen.facts.offers.iter().find(|o| o.product == product.id && o.preferred);
            let Some(offer) = offer.filter(|_| there < self.least_weeks * use_a_week) else {
                continue;
            };
            let pack = product.size().ledger_units() as f64 / 1000.0 * f64::from(offer.pack);
            let packs = ((self.most_weeks * use_a_week - there) / pack).ceil().max(1.0) as u32;
            match buys.iter_mut().find(|own| own.supplier == offer.supplier) {
                Some(own) => own.lines.push((product.id.clone(), packs)),
                None => buys.push(Buys {
                    supplier: offer.supplier.clone(),
                    lines: vec![(product.id.clone(), packs)],
                }),
            }
        }
        buys
    }
}
