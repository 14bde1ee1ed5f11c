//! Whether jobs that are said to be ready are.

use capful_domain::Snapshot;
use capful_forecast::{Plan, PlanSettings, plan};
use capful_simulation::{Habit, Life, OwnersRule, Recipe};
use chrono::Days;

/// One booked job: what was said, what "enough for the mean" said, what happened.
#[derive(Debug, Clone, Copy)]
pub struct Said {
    pub chance: f64,
    pub enough: bool,
    pub ready: bool,
}

/// Days ahead that jobs are looked at.
const AHEAD_DAYS: u64 = 8;

/// The morning's booked jobs, and what comes of them if nothing more is ordered.
pub fn said(life: &Life, seed: u64) -> Vec<Said> {
    let snapshot = Snapshot::of(life.facts(), life.morning());
    let made = plan(&snapshot, &PlanSettings::default(), seed);
    let mut branch = life.clone();
    branch.stop_ordering();
    let end = life.today() + Days::new(AHEAD_DAYS);
    let before = branch.took().len();
    branch.live_until(end, &mut OwnersRule::default());
    let mut said = Vec::new();
    for row in made.readiness.iter().filter(|row| row.planned_on < end) {
        let Some(place) = branch.visits().iter().position(|v| v.job.as_str() == row.job) else {
            continue;
        };
        let visit = &branch.visits()[place];
        if !visit.came() {
            continue;
        }
        let own = branch.took()[before..].iter().filter(|took| took.visit == place);
        let ready = own.clone().all(|took| took.missing <= 0.0);
        said.push(Said { chance: row.ready_chance, enough: enough(&made, &row.job), ready });
    }
    said
}

/// Whether what is on hand is enough for the mean of what the job and those before it take.
fn enough(made: &Plan, job: &str) -> bool {
    let mut left: std::collections::HashMap<&str, f64> =
        made.products.iter().map(|p| (p.product.as_str(), p.on_hand.amount)).collect();
    for row in &made.readiness {
        let mut short = false;
        let mut expects: std::collections::HashMap<&str, f64> = std::collections::HashMap::new();
        for out in &row.set_out {
            *expects.entry(out.product.as_str()).or_insert(0.0) += out.expect.amount;
        }
        for (product, expect) in expects {
            let left = left.entry(product).or_insert(0.0);
            *left -= expect;
            short |= *left < 0.0;
        }
        short |= row
            .short_of
            .iter()
            .any(|s| s.chance > 0.5 && row.set_out.iter().all(|out| out.product != s.product));
        if row.job == job {
            return !short;
        }
    }
    true
}

/// Jobs of one shop whose owner orders late, so that the shelf is often nearly bare.
pub fn of_shop(habit: Habit, seed: u64) -> Vec<Said> {
    let recipe = Recipe { habit, weeks: 84, ..Recipe::default() };
    let mut life = Life::new(&recipe, seed);
    let mut late = OwnersRule { least_weeks: 0.9, most_weeks: 2.0 };
    let mut all = Vec::new();
    for week in 26..76 {
        // Thursday: three days after the order, four before the next.
        life.live_until(life.day_after_weeks(week) + Days::new(3), &mut late);
        if week % 2 == 0 {
            all.extend(said(&life, u64::from(week)));
        }
    }
    all
}

/// Mean squared error of a chance (Brier 1950).
pub fn brier(said: &[Said], chance: impl Fn(&Said) -> f64) -> f64 {
    super::mean(said.iter().map(|s| (chance(s) - f64::from(u8::from(s.ready))).powi(2)))
}
