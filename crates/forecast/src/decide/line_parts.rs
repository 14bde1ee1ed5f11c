//! What an order line's reason is made of, from what jobs take to the packs.

use chrono::{Days, NaiveDate};

use crate::decide::choose::Candidate;
use crate::learn::index::{UnitOfWork, float};
use crate::plan::{AmountIn, LineParts};
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::shelf::ahead;
use crate::simulate::stock::Stock;
use crate::simulate::walk::{Rules, Walk};
use crate::statistics::rounded;

/// The parts of a line of so many packs.
pub(crate) fn line_parts(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    candidate: &Candidate<'_>,
    packs: u32,
) -> LineParts {
    let (product, supply) = (candidate.product, candidate.case.supply);
    let service = float(inputs.snapshot.facts.shop.service);
    let levels = stock.levels_from(product, service, supply);
    let shelf = &stock.shelves[product];
    let day = |ahead: i32| inputs.snapshot.day + Days::new(u64::from(ahead.max(0).unsigned_abs()));
    let amount = |base: f64| stock.amount(inputs.index, product, base);
    // What is left of the printed numbers, so that they add up as they stand.
    let of = |number: f64| AmountIn { amount: rounded(number, 3), ..amount(0.0) };
    let up_to_day = day(levels.end + levels.more);
    let (booked, not_booked) = (amount(levels.booked), amount(levels.not_booked));
    let (safety, reorder_point) = (amount(levels.safety), amount(levels.reorder_point));
    let lead_time = reorder_point.amount - booked.amount - not_booked.amount - safety.amount;
    let order_up_to = amount(levels.order_up_to);
    let (on_hand, on_order) = (amount(shelf.on_hand), amount(shelf.on_order));
    let goes_off = amount(goes_off(inputs, stock, product, up_to_day));
    let missing = order_up_to.amount + goes_off.amount - on_hand.amount - on_order.amount;
    let containers = f64::from(packs * candidate.case.containers_in_pack);
    let bought = amount(containers * candidate.case.container_size);
    let mut ends: Vec<i32> = (0..stock.futures.count).map(|f| supply.next_arrives(f)).collect();
    ends.sort_unstable();
    LineParts {
        from: inputs.snapshot.day,
        to: day(levels.end),
        late_to: day(ends.get(ends.len() * 9 / 10).copied().unwrap_or(levels.end)),
        booked_jobs: booked_jobs(inputs, stock, product, levels.end),
        booked,
        not_booked,
        lead_time: of(lead_time),
        safety,
        reorder_point,
        to_last: of(order_up_to.amount - reorder_point.amount),
        order_up_to,
        up_to_day,
        goes_off,
        on_hand,
        on_order,
        missing: of(missing),
        beyond: of(bought.amount - rounded(missing, 3)),
        bought,
    }
}

/// Booked jobs before a day that take a product.
fn booked_jobs(inputs: &ModelInputs<'_>, stock: &Stock, product: usize, end: i32) -> u32 {
    let takes = |unit: &UnitOfWork| inputs.index.pairs[unit.pair].product == product;
    let jobs = stock.futures.booked.iter().filter(|job| job.day < end);
    u32::try_from(jobs.filter(|job| job.units.iter().any(takes)).count()).unwrap_or(u32::MAX)
}

/// What goes off on average before a day of what is there and on its way, in base units.
fn goes_off(inputs: &ModelInputs<'_>, stock: &Stock, product: usize, end: NaiveDate) -> f64 {
    let mut walk = Walk::default();
    let days = ahead(end, inputs.snapshot.day).min(stock.futures.days);
    let wasted = (0..stock.futures.count).map(|future| {
        let rules = Rules { days, ..stock.rules(inputs.index, product, future) };
        let (shelf, coming) = (&stock.shelves[product].groups, &stock.coming[product][future]);
        walk.run(&rules, shelf, coming, stock.futures.products[product].of(future));
        walk.wasted
    });
    wasted.sum::<f64>() / stock.futures.count.max(1) as f64
}
