//! How far what jobs are said to take is from what they truly take.

use std::collections::HashMap;

use capful_domain::{Condition, Snapshot, VehicleSize};
use capful_forecast::Usage;
use capful_simulation::{Habit, Life, NewPad, OwnersRule, Recipe, Truth};

type Unit = (usize, VehicleSize, Condition);

/// How often each pair was used at each size and condition over the whole calendar.
fn units(life: &Life) -> HashMap<Unit, f64> {
    let mut units = HashMap::new();
    for visit in life.visits().iter().filter(|visit| visit.came()) {
        for (place, pair) in life.truth().pairs.iter().enumerate() {
            if visit.job_types.contains(&pair.job_type) {
                *units.entry((place, visit.size, visit.condition)).or_insert(0.0) += 1.0;
            }
        }
    }
    units
}

/// What is said of each pair at each size and condition.
pub struct Said(HashMap<Unit, f64>);

impl Said {
    pub fn learned(life: &Life, snapshot: &Snapshot) -> Self {
        let usage = Usage::learn(snapshot);
        let facts = life.facts();
        let places: HashMap<(&str, &str), usize> = life
            .truth()
            .pairs
            .iter()
            .enumerate()
            .map(|(place, pair)| {
                let product = facts.products[pair.product].id.as_str();
                ((facts.job_types[pair.job_type].id.as_str(), product), place)
            })
            .collect();
        let mut said = HashMap::new();
        for size in VehicleSize::ALL {
            for condition in Condition::all() {
                for row in usage.rows_at(size, condition) {
                    if let Some(place) = places.get(&(row.job_type.as_str(), row.product.as_str()))
                    {
                        said.insert((*place, size, condition), row.mean);
                    }
                }
            }
        }
        Self(said)
    }

    pub fn of(&self, unit: &Unit) -> f64 {
        self.0.get(unit).copied().unwrap_or(0.0)
    }

    /// By how much what a product's jobs take together is off another's, as a share.
    pub fn moved(&self, other: &Self, life: &Life, product: usize) -> f64 {
        let own = |unit: &Unit| life.truth().pairs[unit.0].product == product;
        let units = units(life);
        let sum = |said: &Self| -> f64 {
            units.iter().filter(|(unit, _)| own(unit)).map(|(unit, n)| n * said.of(unit)).sum()
        };
        (sum(self) / sum(other) - 1.0).abs()
    }

    /// The same of each kind of job, the most.
    pub fn most_moved(&self, other: &Self, life: &Life, product: usize) -> f64 {
        let units = units(life);
        let own = units.iter().filter(|(unit, _)| life.truth().pairs[unit.0].product == product);
        own.map(|(unit, _)| (self.of(unit) / other.of(unit) - 1.0).abs()).fold(0.0, f64::max)
    }

    /// Mean error as a share of what is used, over products by how often each is used.
    pub fn error(&self, life: &Life, week: u32) -> f64 {
        let truth: &Truth = life.truth();
        let mut sums = vec![(0.0, 0.0, 0.0); truth.thirsts.len()];
        for (unit, count) in units(life) {
            let pair = &truth.pairs[unit.0];
            let mean = truth.mean(pair, unit.1, unit.2, week);
            let (off, used, times) = &mut sums[pair.product];
            *off += count * (self.of(&unit) - mean).abs();
            *used += count * mean;
            *times += count;
        }
        let all: f64 = sums.iter().map(|(_, _, times)| times).sum();
        let share = |(off, used, times): (f64, f64, f64)| times * off / f64::max(used, 1e-9);
        sums.into_iter().map(share).sum::<f64>() / all
    }
}

/// The same error of the sheet where each product's rows are multiplied by the one ratio that is
/// right for it: how much a shop's job types differ beyond what they share.
pub fn error_of_one_ratio(life: &Life) -> f64 {
    let mut said = Said::learned(life, &super::snapshot(life, 0));
    let mut sums = vec![(0.0, 0.0); life.truth().thirsts.len()];
    for (unit, count) in units(life) {
        let pair = &life.truth().pairs[unit.0];
        let (true_sum, said_sum) = &mut sums[pair.product];
        *true_sum += count * life.truth().mean(pair, unit.1, unit.2, 0);
        *said_sum += count * said.of(&unit);
    }
    for (unit, mean) in &mut said.0 {
        let (true_sum, said_sum) = sums[life.truth().pairs[unit.0].product];
        *mean *= true_sum / f64::max(said_sum, 1e-9);
    }
    said.error(life, 0)
}

/// The error after so many weeks, with what was written down by then.
pub fn error(life: &Life, weeks: u32) -> f64 {
    Said::learned(life, &super::snapshot(life, weeks)).error(life, weeks)
}

const CHANGE_WEEK: u32 = 52;

/// A shop in which every third product takes `factor` of what it took, from week 52 on: how much of
/// that (on the scale of the logarithm) is learned so many weeks later, weighted by use.
pub fn share_of_change_learned(habit: Habit, factor: f64, seed: u64, weeks: u32) -> f64 {
    let new_pad = NewPad { week: CHANGE_WEEK, every: 3, factor };
    let recipe = Recipe { habit, weeks: CHANGE_WEEK + weeks + 8, ..Recipe::default() };
    let learned = |recipe: &Recipe| {
        let mut life = Life::new(recipe, seed);
        let day = life.day_after_weeks(CHANGE_WEEK + weeks);
        life.live_until(day, &mut OwnersRule::default());
        let said = Said::learned(&life, &super::snapshot(&life, CHANGE_WEEK + weeks));
        (life, said)
    };
    // The same shop without the change: what else is unknown of it cancels out.
    let (life, after) = learned(&Recipe { new_pad: Some(new_pad), ..recipe });
    let (_, steady) = learned(&recipe);
    let (mut sum, mut all) = (0.0, 0.0);
    for (unit, count) in units(&life) {
        let pair = &life.truth().pairs[unit.0];
        if pair.product % 3 == 0 && steady.of(&unit) > 0.0 {
            let moved = (after.of(&unit) / steady.of(&unit)).ln() / factor.ln();
            sum += count * moved;
            all += count;
        }
    }
    sum / f64::max(all, 1.0)
}
