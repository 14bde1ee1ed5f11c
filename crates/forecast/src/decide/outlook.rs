//! Each product's stock, demand, cover and order levels.

use chrono::Days;

use crate::decide::projection::Projection;
use crate::plan::{Bands, CoverDays, Demand, LeadDays, ProductOutlook};
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::stock::Stock;
use crate::simulate::walk::Walk;
use crate::statistics::{mean_sd, quantile_of_sorted, rounded};

/// Days of the demand that is shown first.
const DEMAND_DAYS: i32 = 14;
const OTHER_SPANS: [i32; 2] = [7, 28];

/// One product's outlook.
pub(crate) fn outlook(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    projection: &Projection,
) -> ProductOutlook {
    let shelf = &stock.shelves[product];
    let amount = |base: f64| stock.amount(inputs.index, product, base);
    let levels = stock.levels[product];
    let cover_days = cover_days(inputs, stock, product, projection);
    let horizon_days = stock.futures.days.unsigned_abs();
    let lead = stock.supplier_of[product].map(|supplier| &stock.leads[supplier]);
    ProductOutlook {
        product: inputs.index.products[product].id.to_string(),
        on_hand: amount(shelf.on_hand),
        on_order: amount(shelf.on_order),
        reorder_point: amount(levels.reorder_point),
        order_up_to: amount(levels.order_up_to),
        lead_days: LeadDays {
            mean: lead.map_or(0.0, |lead| rounded(lead.mean(), 1)),
            p90: lead.map_or(0.0, |lead| rounded(lead.quantile(0.9), 1)),
        },
        demand: demand(inputs, stock, product, DEMAND_DAYS),
        cover_is_at_least: cover_days.p50 >= horizon_days,
        horizon_days,
        cover_days,
        past_use_by: amount(shelf.past_quantity),
        demand_ahead: OTHER_SPANS
            .iter()
            .map(|days| demand(inputs, stock, product, *days))
            .collect(),
    }
}

fn demand(inputs: &ModelInputs<'_>, stock: &Stock, product: usize, days: i32) -> Demand {
    let mut totals = stock.futures.products[product].totals(|_| days);
    let (mean, sd) = mean_sd(&totals);
    totals.sort_by(f64::total_cmp);
    let unit = inputs.index.products[product].unit_base;
    let shown = |base: f64| rounded(base / unit, 3);
    let quantile = |chance: f64| shown(quantile_of_sorted(&totals, chance));
    let from = inputs.snapshot.day;
    Demand {
        from,
        to: from + Days::new(u64::from(days.unsigned_abs())),
        mean: shown(mean),
        sd: shown(sd),
        p10: quantile(0.1),
        p50: quantile(0.5),
        p90: quantile(0.9),
        p95: quantile(0.95),
        bands: Bands {
            p2_5: quantile(0.025),
            p25: quantile(0.25),
            p75: quantile(0.75),
            p97_5: quantile(0.975),
        },
    }
}

/// Days until what is on hand, and nothing else, leaves a job short.
fn cover_days(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    projection: &Projection,
) -> CoverDays {
    let shelf = &stock.shelves[product];
    let mut walk = Walk::default();
    let without_what_comes = |future: usize| {
        let draws = stock.futures.products[product].of(future);
        let rules = stock.rules(inputs.index, product, future);
        walk.run(&rules, &shelf.groups, &[], draws);
        walk.lasts_days(&rules)
    };
    let days: Vec<i32> = if shelf.coming.is_empty() {
        projection.lasts_days.clone()
    } else {
        (0..stock.futures.count).map(without_what_comes).collect()
    };
    let mut days: Vec<f64> = days.into_iter().map(f64::from).collect();
    days.sort_by(f64::total_cmp);
    let quantile = |chance| quantile_of_sorted(&days, chance).floor() as u32;
    CoverDays { p10: quantile(0.1), p50: quantile(0.5), p90: quantile(0.9) }
}
