//! What would have been foretold on the morning of one day, by the plan and by plain forecasts.

use capful_domain::{Facts, Snapshot};
use chrono::NaiveDate;

use super::SPANS_DAYS;
use super::plain::PastWeeks;
use super::result::{BaselineForecast, Foretold, ForetoldSpan, Week};
use crate::learn::learned_model::LearnedModel;
use crate::plan::{Demand, Plan, ProductOutlook};
use crate::planner::plan;
use crate::planner::settings::PlanSettings;
use crate::statistics::rounded;

/// What would have been foretold on the morning of `day`: nothing of `facts` that came after it is
/// seen.
pub(crate) fn foretell(facts: &Facts, day: NaiveDate, settings: &PlanSettings, seed: u64) -> Week {
    let snapshot = Snapshot::of(facts, facts.shop.start_of(day));
    let plan = plan(&snapshot, settings, seed);
    let lessons = LearnedModel::of(&snapshot);
    let past = PastWeeks::of(&snapshot, &lessons);
    let products = plan.products.iter().enumerate();
    let products = products.map(|(product, outlook)| {
        let unit = lessons.index.products[product].unit_base;
        let plain = |days| of_baselines(&past, product, days, unit);
        let span = |days| {
            let demand = demand_over(outlook, &plan, days)?;
            Some(ForetoldSpan { days, demand, baselines: plain(days), took: None })
        };
        Foretold {
            product: outlook.product.clone(),
            unit: outlook.on_hand.unit,
            spans: SPANS_DAYS.into_iter().filter_map(span).collect(),
        }
    });
    Week { day, products: products.collect() }
}

/// What the plan says of so many days.
fn demand_over(outlook: &ProductOutlook, plan: &Plan, days: u32) -> Option<Demand> {
    let all = outlook.demand_ahead.iter().chain(std::iter::once(&outlook.demand));
    let is_own = |demand: &&Demand| (demand.to - plan.as_of).num_days() == i64::from(days);
    all.copied().find(|demand| is_own(&demand))
}

/// The plain forecasts in the product's unit.
fn of_baselines(past: &PastWeeks, product: usize, days: u32, unit: f64) -> Vec<BaselineForecast> {
    let mut forecasts = past.forecasts(product, days);
    for forecast in &mut forecasts {
        forecast.mean = rounded(forecast.mean / unit, 3);
        forecast.sd = rounded(forecast.sd / unit, 3);
    }
    forecasts
}
