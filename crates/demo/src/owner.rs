//! How the owner orders: by rule of thumb, once a week, looking at the shelf and the calendar.

use std::collections::BTreeMap;

use capful_domain::{Money, Offer, Quantity};
use chrono::{Datelike, Days, NaiveDate, Weekday};
use rand::RngExt;

use crate::calendar::Visit;
use crate::chance::{Rng, normal};
use crate::shelf::Shelf;
use crate::world::World;

/// What the owner sees on the day of the order.
pub struct View<'a> {
    /// The set-up.
    pub world: &'a World,
    /// The shelf, seen from the door.
    pub shelf: &'a Shelf,
    /// What is still to come of each product.
    pub on_order: &'a [Quantity],
    /// The calendar.
    pub visits: &'a [Visit],
    /// What a usual week takes of each product, by the sheet.
    pub weekly: &'a [f64],
    /// Weeks since the beginning.
    pub weeks: f64,
    /// Today.
    pub day: NaiveDate,
}

/// An order to place: the supplier's place, and packs of each offer.
pub type Wanted = BTreeMap<usize, Vec<(Offer, u32)>>;

/// How one product stands.
struct Level {
    /// Share of the level at which it is low.
    of_low: f64,
    /// Containers to buy.
    containers: u32,
}

impl View<'_> {
    /// What the booked jobs of the next days should take of each product, by the sheet.
    pub fn booked_need(&self, days: u64) -> Vec<f64> {
        let end = self.day + Days::new(days);
        let shop = self.world.shop();
        let known = |visit: &&Visit| {
            visit.booked.0 < self.day
                && (self.day..end).contains(&visit.day)
                && visit.cancelled.is_none_or(|when| when.0 >= self.day)
        };
        let mut need = vec![0.0; self.world.facts.products.len()];
        for visit in self.visits.iter().filter(known) {
            let size: f64 = shop.size_factor(visit.size).try_into().unwrap_or(1.0);
            let lines = self.world.lines.iter();
            for line in lines.filter(|line| visit.services.contains(&line.service)) {
                need[line.product] += line.expected * size;
            }
        }
        need
    }

    /// What a week takes: the sheet at first, then what has gone.
    fn week(&self, product: usize) -> f64 {
        let used = self.shelf.used[product].ledger_units() as f64;
        (self.weekly[product] * 6.0 + used) / (6.0 + self.weeks)
    }

    /// What there is and what is coming, in ledger units.
    pub fn have(&self, product: usize) -> f64 {
        (self.shelf.total(product) + self.on_order[product]).ledger_units() as f64
    }

    /// How the stock stands to the level at which the owner orders: below 1 it is low.
    fn level(&self, product: usize, booked: f64, rng: &mut Rng) -> Level {
        let size = self.world.product(product).size().ledger_units() as f64;
        let week = self.week(product);
        let seen = self.have(product) * normal(rng, 1.0, 0.1);
        let low = (3.2 * week).max(1.4 * booked).max(0.15 * size);
        let target = (5.5 * week).max(low * 1.1);
        let containers = (((target - seen) / size).ceil() as u32).max(1);
        Level { of_low: seen / low, containers }
    }

    /// The suppliers whose weekly day this is.
    pub fn order_day(&self) -> Vec<bool> {
        (0..self.world.facts.suppliers.len()).map(|place| self.is_order_day(place)).collect()
    }

    /// What to order from whom, of the suppliers that are marked. What is low makes the order;
    /// what will be soon is ordered with it.
    pub fn wanted(&self, today: &[bool], forgets: f64, rng: &mut Rng) -> Wanted {
        const SOON: f64 = 1.4;
        let facts = &self.world.facts;
        let mut wanted = Wanted::new();
        if !today.contains(&true) {
            return wanted;
        }
        let booked = self.booked_need(14);
        let mut low = vec![false; today.len()];
        for (place, need) in booked.into_iter().enumerate() {
            let level = self.level(place, need, rng);
            if level.of_low >= SOON || rng.random_bool(forgets) {
                continue;
            }
            let Some(offer) = self.offer(place, level.containers) else { continue };
            let of = facts.suppliers.iter().position(|s| s.id == offer.supplier);
            let Some(supplier) = of.filter(|supplier| today[*supplier]) else { continue };
            low[supplier] |= level.of_low < 1.0;
            let packs = level.containers.div_ceil(offer.pack).max(offer.minimum_packs);
            wanted.entry(supplier).or_default().push((offer.clone(), packs));
        }
        wanted.retain(|supplier, _| low[*supplier]);
        for (supplier, lines) in &mut wanted {
            top_up(lines, facts.suppliers[*supplier].minimum_order);
        }
        wanted
    }

    /// The preferred offer, or a larger pack of the same supplier where that many are bought.
    fn offer(&self, product: usize, containers: u32) -> Option<&Offer> {
        let id = &self.world.product(product).id;
        let offers = || self.world.facts.offers.iter().filter(|offer| offer.product == *id);
        let usual = offers().find(|offer| offer.preferred)?;
        let larger = offers().find(|offer| {
            offer.supplier == usual.supplier && offer.pack > usual.pack && offer.pack <= containers
        });
        Some(larger.unwrap_or(usual))
    }

    fn is_order_day(&self, supplier: usize) -> bool {
        let days = &self.world.facts.suppliers[supplier].order_weekdays;
        let first = days.iter().min_by_key(|day| day.num_days_from_monday());
        self.day.weekday() == *first.unwrap_or(&Weekday::Mon)
    }
}

/// The value of an order.
pub fn goods(lines: &[(Offer, u32)]) -> Money {
    lines.iter().map(|(offer, packs)| offer.price.times(i64::from(*packs))).sum()
}

/// More of the first line until the supplier takes the order.
fn top_up(lines: &mut [(Offer, u32)], minimum: Money) {
    while goods(lines) < minimum {
        match lines.first_mut() {
            Some((_, packs)) => *packs += 1,
            None => break,
        }
    }
}
