//! Whether as much goes off as is said.

use std::collections::HashMap;

use capful_domain::Snapshot;
use capful_forecast::{PlanSettings, plan};
use capful_simulation::{Buyer, Life};

/// What is said to go off of the containers that stand on a shelf, and what then does, in money.
#[derive(Debug, Clone, Copy, Default)]
pub struct Waste {
    pub said: f64,
    pub thrown: f64,
}

/// Weeks after the last plan that its containers are followed for.
const FOLLOWED_WEEKS: u32 = 30;

/// Every so many weeks a plan's containers are followed to their end.
pub fn of_shop(before: &Life, buyer: &mut dyn Buyer, until_week: u32, every_weeks: u32) -> Waste {
    let mut life = before.clone();
    // Those that are good for longer are not followed.
    let end = life.day_after_weeks(until_week + FOLLOWED_WEEKS);
    let first = life.week_of(life.today());
    // What was said of each container, each time.
    let mut said: HashMap<String, Vec<f64>> = HashMap::new();
    for week in (first..until_week).step_by(every_weeks as usize) {
        life.live_until(life.day_after_weeks(week), buyer);
        let snapshot = Snapshot::of(life.facts(), life.morning());
        let made = plan(&snapshot, &PlanSettings::default(), u64::from(week));
        for row in made.going_off.iter().filter(|row| row.use_by < end) {
            let cost = f64::try_from(row.waste_cost).unwrap();
            said.entry(row.container.clone()).or_default().push(cost);
        }
    }
    life.live_until(end, buyer);
    let mut waste = Waste::default();
    for thrown in life.thrown() {
        let times = said.get(thrown.container.as_str());
        waste.thrown += thrown.cost * times.map_or(0, Vec::len) as f64;
    }
    waste.said = said.values().flatten().sum();
    waste
}
