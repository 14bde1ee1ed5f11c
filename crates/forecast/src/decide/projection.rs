//! The shelf as it is, with what is on order and nothing more, walked through all futures: what
//! booked jobs would lack and what would go off.

use crate::simulate::order_cost::tail_waste;
use crate::simulate::scenarios::{ModelInputs, NOT_BOOKED};
use crate::simulate::stock::Stock;
use crate::simulate::walk::Walk;

/// What a booked job lacked of one product.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shortage {
    pub booked: usize,
    pub product: usize,
    pub future: usize,
    pub missing: f64,
    /// Whether a substitute could serve.
    pub covered: bool,
}

/// What the walk of one product showed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Projection {
    pub shortages: Vec<Shortage>,
    /// What goes off on average of each container that can be used today.
    pub waste_of: Vec<f64>,
    /// For each future the day on which a job first lacks some; the last that was drawn, if none.
    pub lasts_days: Vec<i32>,
}

/// Walks one product.
pub(crate) fn projection(inputs: &ModelInputs<'_>, stock: &Stock, product: usize) -> Projection {
    let shelf = &stock.shelves[product];
    let mut walk = Walk::default();
    let waste_of = vec![0.0; shelf.groups.len()];
    let mut own = Projection { waste_of, ..Projection::default() };
    for future in 0..stock.futures.count {
        let draws = stock.futures.products[product].of(future);
        let rules = stock.rules(inputs.index, product, future);
        walk.run(&rules, &shelf.groups, &stock.coming[product][future], draws);
        own.lasts_days.push(walk.lasts_days(&rules));
        let mut missing = 0.0;
        for shortage in &walk.shortages {
            missing += shortage.missing;
            if shortage.booked != NOT_BOOKED {
                own.shortages.push(Shortage {
                    booked: shortage.booked as usize,
                    product,
                    future,
                    missing: shortage.missing,
                    covered: missing <= stock.spare[product][future],
                });
            }
        }
        for (sum, wasted) in own.waste_of.iter_mut().zip(&walk.wasted_of) {
            *sum += wasted;
        }
        let left = walk.left.iter().map(|(until, quantity, _)| (*until, *quantity));
        let tail = tail_waste(left, stock.daily_use[product], rules.days);
        for ((_, _, origin), waste) in walk.left.iter().zip(tail) {
            if let Some(sum) = own.waste_of.get_mut(*origin as usize) {
                *sum += waste;
            }
        }
    }
    for sum in &mut own.waste_of {
        *sum /= stock.futures.count.max(1) as f64;
    }
    own
}
