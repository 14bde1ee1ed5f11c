//! The expected cost of buying so many packs of one product now.
//!
//! Over the futures: what stalls before the next order could be there, what would force an order
//! before its time, money tied up, and what goes off. What is left at the end is worth what it
//! costs to buy, less what of it will go off at the usual rate of use.

use capful_domain::Ratio;

use crate::simulate::scenarios::ProductScenarios;
use crate::simulate::shelf::ProductShelf;
use crate::simulate::supply::Supply;
use crate::simulate::walk::{Arrival, Rules, Walk};

/// Everything that the cost of one product from one supplier depends on.
#[derive(Clone, Copy)]
pub(crate) struct Case<'a> {
    pub shelf: &'a ProductShelf,
    pub futures: &'a ProductScenarios,
    pub supply: &'a Supply,
    /// What comes anyway, by future.
    pub coming: &'a [Vec<Arrival>],
    /// What substitutes can spare, by future.
    pub spare: &'a [f64],
    pub rules: Rules<'a>,
    /// What the books are off by, by future.
    pub books_off: &'a [f64],
    pub containers_in_pack: u32,
    pub container_size: f64,
    pub pack_price: f64,
    /// Cost of a year's holding, as a share of value.
    pub holding_rate: f64,
    /// Usual use, base units a day.
    pub daily_use: f64,
}

/// What so many packs cost, in the shop's currency.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct LineCost {
    pub packs: u32,
    /// Everything but `early`; the price of what jobs use is left out.
    pub besides: f64,
    /// One more delivery, where it does not last until this order's cycle ends.
    pub early: f64,
    /// Stalls before the next order could be there.
    pub stalls: f64,
    /// Chance of at least one.
    pub stall_chance: f64,
    /// The same from the day on that this order is there.
    pub chance_after: f64,
    /// What goes off.
    pub waste: f64,
}

impl Case<'_> {
    /// The cost of `packs`, placed on `place_day`.
    pub fn cost(&self, packs: u32, place_day: i32) -> LineCost {
        let mut walk = Walk::default();
        let mut sum = LineCost { packs, ..LineCost::default() };
        let count = self.supply.leads.len();
        let mut arrivals = Vec::new();
        for future in 0..count {
            arrivals.clear();
            arrivals.extend_from_slice(&self.coming[future]);
            let arrives = self.supply.arrives(place_day, future);
            if packs > 0 {
                let containers = packs * self.containers_in_pack;
                arrivals.push(self.shelf.arrival(arrives, containers, self.container_size));
                arrivals.sort_by_key(|a| a.day);
            }
            let rules = Rules { books_off: self.books_off[future], ..self.rules };
            walk.run(&rules, &self.shelf.groups, &arrivals, self.futures.of(future));
            self.add(&mut sum, &walk, future, arrives);
        }
        let mean = 1.0 / count.max(1) as f64;
        sum.besides = sum.besides * mean + f64::from(packs) * self.pack_price;
        sum.early *= mean;
        sum.stalls *= mean;
        sum.stall_chance *= mean;
        sum.chance_after *= mean;
        sum.waste *= mean;
        sum
    }

    fn add(&self, sum: &mut LineCost, walk: &Walk, future: usize, arrives: i32) {
        let next = self.supply.next_arrives(future);
        let cycle = self.supply.cycle_arrives(future);
        let (mut stalls, mut missing, mut any, mut after) = (0.0, 0.0, false, false);
        let mut early = None;
        for shortage in &walk.shortages {
            missing += shortage.missing;
            if missing <= self.spare[future] || shortage.day >= cycle {
                continue;
            }
            if shortage.day < next {
                stalls += shortage.stall_cost;
                any = true;
                after |= shortage.day >= arrives;
            } else if early.is_none() {
                // It would not last the cycle: one more order, or a stall if that is cheaper.
                early = Some(self.supply.freight.min(shortage.stall_cost));
            }
        }
        let value = self.shelf.unit_value;
        let left: f64 = walk.left.iter().map(|(_, quantity, _)| quantity).sum();
        let tail = self.tail_waste(walk);
        let usable = (left - tail).max(0.0);
        let later = usable * usable / (2.0 * self.daily_use.max(usable / 365.0).max(1e-9));
        let holding = self.holding_rate / 365.0 * value * (walk.stock_days + later);
        let waste = value * (walk.wasted + tail);
        sum.stalls += stalls;
        sum.stall_chance += f64::from(u8::from(any));
        sum.chance_after += f64::from(u8::from(after));
        sum.waste += waste;
        // What is left serves later jobs, and what was missing must still be bought for them.
        sum.besides += stalls + holding - value * (usable - missing);
        sum.early += early.unwrap_or(0.0);
    }

    /// What of the stock at the end goes off before it is used, at the usual rate of use.
    fn tail_waste(&self, walk: &Walk) -> f64 {
        let left = walk.left.iter().map(|(until, quantity, _)| (*until, *quantity));
        tail_waste(left, self.daily_use, self.rules.days).iter().sum()
    }
}

/// What of each of `left` (until when it is good, how much) goes off before it is used, at a steady
/// rate from day `from` on, the earliest use-by used first.
pub(crate) fn tail_waste(
    left: impl Iterator<Item = (i32, f64)>,
    daily_use: f64,
    from: i32,
) -> Vec<f64> {
    let left: Vec<(i32, f64)> = left.collect();
    let mut places: Vec<usize> = (0..left.len()).collect();
    places.sort_by_key(|place| left[*place].0);
    let mut waste = vec![0.0; left.len()];
    let mut used_before = 0.0;
    for place in places {
        let (until, quantity) = left[place];
        let can_use = daily_use * f64::from(until.saturating_sub(from)) - used_before;
        waste[place] = (quantity - can_use.max(0.0)).max(0.0);
        used_before += quantity - waste[place];
    }
    waste
}

/// Ratios of the pairs, for [`Rules`].
pub(crate) fn ratios(index: &crate::learn::index::Index) -> Vec<Ratio> {
    index.pairs.iter().map(|pair| pair.ratio).collect()
}
