//! The backtest: history replayed week by week, each with only what was known on its morning.
//!
//! For the morning of each past order day the plan is made as it would have been made then. What
//! it foretold of demand is held against what was taken afterwards, beside plain forecasts that had
//! the same records; and the recorded jobs are walked through a shelf that follows its list.
//!
//! What is foretold for a week sees nothing of what came after its morning. What it is held
//! against, and the walk, see everything that is known at the end.

mod account;
pub mod baseline;
mod delivery;
mod follow;
mod foretell;
mod plain;
mod result;
mod score;
mod taken;

use capful_domain::{Facts, JobStatus, Shop, Snapshot};
use chrono::{DateTime, Days, NaiveDate, Utc};
use rayon::prelude::*;

pub use result::{
    Account, Backtest, BandScore, Baseline, BaselineForecast, Followed, FollowedOrder, Foretold,
    ForetoldSpan, MethodScore, ProductScore, SpanScore, Stalled, Took, Week,
};

use crate::learn::learned_model::LearnedModel;
use crate::planner::settings::PlanSettings;
use taken::Takings;

/// Spans of demand that are held against what came, in days.
pub const SPANS_DAYS: [u32; 3] = [7, 14, 28];
/// Weeks of done jobs before the first week that is replayed: what a plain forecast needs to know
/// its own errors over four weeks.
pub const WEEKS_BEFORE: u32 = 8;

/// How far the backtest goes back, and how its plans are made.
#[derive(Debug, Clone, PartialEq)]
pub struct BacktestSettings {
    /// Most weeks to replay; the latest ones.
    pub weeks: u32,
    /// How the plan of each week is made.
    pub plan: PlanSettings,
}

impl Default for BacktestSettings {
    fn default() -> Self {
        Self { weeks: 26, plan: PlanSettings::default() }
    }
}

/// There is no week to replay.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "there is too little history to replay: it takes {WEEKS_BEFORE} weeks of done jobs, and one \
     whole week after an order day that follows them; {seen}"
)]
pub struct TooShort {
    /// What there is.
    seen: String,
}

/// Replays the weeks before `as_of` and holds what was foretold in each against what came.
///
/// Pure: the same facts, moment, settings and seed give the same result on any number of cores.
/// `progress` is told how many steps of how many are done, from any thread.
///
/// # Errors
/// [`TooShort`] where there is no week to replay.
pub fn backtest(
    facts: &Facts,
    as_of: DateTime<Utc>,
    settings: &BacktestSettings,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Backtest, TooShort> {
    let end = Snapshot::of(facts, as_of);
    let days = order_days(&end, settings.weeks)?;
    let steps = 2 * days.len();
    let done = std::sync::atomic::AtomicUsize::new(0);
    let step = || {
        let before = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        progress(before + 1, steps);
    };
    progress(0, steps);
    let mut weeks: Vec<Week> = days
        .par_iter()
        .map(|day| {
            let week = foretell::foretell(&end.facts, *day, &settings.plan, seed);
            step();
            week
        })
        .collect();
    let lessons = LearnedModel::of(&end);
    let takings = Takings::of(&end, &lessons, |unit| lessons.usage.mean(&lessons.index, unit));
    let known = taken::Known { end: &end, lessons: &lessons, takings: &takings };
    score::hold(&mut weeks, &known);
    let followed = follow::follow(&known, &days, (&settings.plan, seed), &step);
    let shop = &end.facts.shop;
    Ok(Backtest {
        shop: shop.name.clone(),
        as_of: end.day,
        seed,
        currency: shop.currency.code().to_owned(),
        from: days[0],
        to: days[days.len() - 1] + Days::new(7),
        yardstick: taken::yardstick(end.day),
        baselines: plain::described(),
        spans: score::spans(&weeks),
        products: score::products(&weeks),
        followed,
        weeks,
    })
}

/// The order days to replay: the latest ones with a whole week behind and enough before them.
fn order_days(end: &Snapshot, most: u32) -> Result<Vec<NaiveDate>, TooShort> {
    let shop = &end.facts.shop;
    let done = end.facts.jobs.iter().filter(|job| job.status == JobStatus::Done);
    let Some(first) = done.map(|job| shop.day_of(job.ended_at(shop))).min() else {
        return Err(TooShort { seen: "no job is done yet".to_owned() });
    };
    let enough = first + Days::new(u64::from(WEEKS_BEFORE) * 7);
    let mut day = Shop::next_weekday(enough, shop.order_weekday);
    let mut days = Vec::new();
    while day + Days::new(7) <= end.day {
        days.push(day);
        day = day + Days::new(7);
    }
    let skipped = days.len().saturating_sub(most.max(1) as usize);
    days.drain(..skipped);
    if days.is_empty() {
        return Err(TooShort { seen: format!("the first job was done on {first}") });
    }
    Ok(days)
}
