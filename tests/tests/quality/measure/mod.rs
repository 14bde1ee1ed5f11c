//! How good the numbers are, on simulated shops whose truth is known.

#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, missing_docs)]

pub mod buyers;
pub mod demand;
pub mod going_off;
pub mod order;
pub mod readiness;
pub mod spill;
pub mod usage;

use capful_domain::Snapshot;
use capful_simulation::{Habit, Life, OwnersRule, Recipe};
use rayon::prelude::*;

/// Weeks after which the numbers are looked at.
pub const WEEKS: [u32; 5] = [4, 13, 26, 52, 104];

pub const fn name_of(habit: Habit) -> &'static str {
    match habit {
        Habit::AllMeasured => "all jobs measured",
        Habit::HalfMeasured => "half the jobs measured",
        Habit::CountsWeekly => "counts every week",
        Habit::CountsNowAndThen => "counts every 2 to 6 weeks",
        Habit::SomeOfEverything => "some of everything",
        Habit::OpeningsOnly => "openings only",
        Habit::Nothing => "nothing",
    }
}

/// One value for each shop, in the order of seeds, whatever the number of cores.
pub fn each_shop<T: Send>(shops: u64, study: impl Fn(u64) -> T + Sync + Send) -> Vec<T> {
    (1..=shops).into_par_iter().map(study).collect()
}

/// A shop that has lived its whole recipe without advice.
pub fn lived(recipe: &Recipe, seed: u64) -> Life {
    let mut life = Life::new(recipe, seed);
    life.live_until(life.day_after_weeks(recipe.weeks), &mut OwnersRule::default());
    life
}

/// What the shop knew on the morning after so many weeks.
pub fn snapshot(life: &Life, weeks: u32) -> Snapshot {
    let day = life.day_after_weeks(weeks);
    let facts = life.facts();
    Snapshot::of(facts, facts.shop.start_of(day) + chrono::Duration::hours(7))
}

pub fn mean(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for value in values {
        sum += value;
        count += 1.0;
    }
    sum / f64::max(count, 1.0)
}
