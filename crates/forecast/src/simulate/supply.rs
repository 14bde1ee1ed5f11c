//! Suppliers as the weekly order sees them: when an order would be placed, when it and the one
//! after it arrive in each future, and for how many weeks one order should last.

use capful_domain::{Snapshot, Supplier};
use chrono::{Datelike, Days, NaiveDate};

use crate::learn::index::float;
use crate::learn::lead_time::LeadTime;
use crate::simulate::shelf::{ahead, money};

/// Days between weekly orders.
pub(crate) const REVIEW_DAYS: i32 = 7;
const MOST_CYCLE_WEEKS: i32 = 8;

/// One supplier.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Supply {
    /// Days ahead that the weekly order is placed.
    pub place_day: i32,
    /// Days ahead that an order could be placed at the soonest.
    pub soonest_day: i32,
    /// For each future the days that the order takes, and the one after it.
    pub leads: Vec<(i32, i32)>,
    pub freight: f64,
    pub free_over: Option<f64>,
    pub minimum: f64,
    /// Weeks that one order should last.
    pub cycle_weeks: i32,
}

impl Supply {
    /// The terms of one supplier. `weekly_value` is what its products take in a week, at cost.
    pub fn of(
        snapshot: &Snapshot,
        supplier: &Supplier,
        lead: &LeadTime,
        weekly_value: f64,
        seed: u64,
        futures: usize,
    ) -> Self {
        let shop = &snapshot.facts.shop;
        let order_day = capful_domain::Shop::next_weekday(snapshot.day, shop.order_weekday);
        let mut supply = Self {
            place_day: ahead(first_taken(supplier, order_day), snapshot.day),
            soonest_day: ahead(first_taken(supplier, snapshot.day), snapshot.day),
            leads: (0..futures).map(|f| (lead.draw(seed, f, 1), lead.draw(seed, f, 2))).collect(),
            freight: money(snapshot, supplier.freight),
            free_over: supplier.free_freight_over.map(|m| money(snapshot, m)),
            minimum: money(snapshot, supplier.minimum_order),
            cycle_weeks: 1,
        };
        supply.cycle_weeks = supply.best_cycle(float(shop.holding_rate), weekly_value);
        supply
    }

    /// Freight of an order of goods of this value.
    pub fn freight_of(&self, goods: f64) -> f64 {
        if self.free_over.is_some_and(|over| goods >= over) { 0.0 } else { self.freight }
    }

    /// Weeks between orders for which freight and holding cost least together (the economic order
    /// quantity in whole weeks: Silver, Pyke & Thomas, §4.2; with free freight and minimum order).
    fn best_cycle(&self, holding_rate: f64, weekly_value: f64) -> i32 {
        let cost = |weeks: &i32| {
            let goods = weekly_value * f64::from(*weeks);
            let holding = holding_rate / 52.0 * goods / 2.0;
            let short_of_minimum = (self.minimum - goods).max(0.0);
            (short_of_minimum, self.freight_of(goods) / f64::from(*weeks) + holding)
        };
        let by_cost = |a: &i32, b: &i32| {
            let (a, b) = (cost(a), cost(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        };
        (1..=MOST_CYCLE_WEEKS).min_by(by_cost).unwrap_or(1)
    }

    /// Day that an order placed on `place_day` arrives in a future.
    pub fn arrives(&self, place_day: i32, future: usize) -> i32 {
        place_day + self.leads[future].0
    }

    /// Day that the order after this one arrives: no order now can help later than that.
    pub fn next_arrives(&self, future: usize) -> i32 {
        let (this, next) = self.leads[future];
        self.place_day + (REVIEW_DAYS + next).max(this)
    }

    /// Day that the order after this one arrives, if this one lasts its whole cycle.
    pub fn cycle_arrives(&self, future: usize) -> i32 {
        self.next_arrives(future) + REVIEW_DAYS * (self.cycle_weeks - 1)
    }

    /// The last day that any future looks at.
    pub fn last_day(&self) -> i32 {
        (0..self.leads.len()).map(|f| self.cycle_arrives(f)).max().unwrap_or(0)
    }
}

/// The first day from `day` on that the supplier takes orders.
fn first_taken(supplier: &Supplier, day: NaiveDate) -> NaiveDate {
    let taken = |day: &NaiveDate| {
        supplier.order_weekdays.is_empty() || supplier.order_weekdays.contains(&day.weekday())
    };
    (0..7).map(|days| day + Days::new(days)).find(taken).unwrap_or(day)
}
