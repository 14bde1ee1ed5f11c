//! The demo shop: invented, brand-free, with eighteen months of history from a seed.
//!
//! Behind it stands a hidden shop that is simulated day by day: what each job truly takes, what
//! truly stands on the shelf. What the owner writes down of it, and believes of it, are the
//! facts. Pure: no clock, no files; the same day and seed give the same facts.

mod calendar;
mod chance;
mod counting;
mod day;
mod owner;
mod products;
mod recording;
mod services;
mod shelf;
mod suppliers;
mod world;

use capful_domain::{Facts, Id};
use chrono::{Datelike, Months, NaiveDate};
use rand::SeedableRng;

use crate::calendar::Visit;
use crate::chance::Rng;
use crate::day::Simulation;
use crate::world::World;

/// Months of history before `today`.
const HISTORY: Months = Months::new(18);

/// Two Gulls Detailing as it stands on the morning of `today`: everything written down happened
/// before that day began.
///
/// ```
/// use chrono::NaiveDate;
/// let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
/// let facts = capful_demo::demo_shop(today, 1);
/// assert_eq!(facts.shop.name, "Two Gulls Detailing");
/// assert!(facts.jobs.len() > 400);
/// ```
#[must_use]
pub fn demo_shop(today: NaiveDate, seed: u64) -> Facts {
    let mut rng = Rng::seed_from_u64(seed);
    let from = today.checked_sub_months(HISTORY).unwrap_or(today);
    let world = World::new(from.year()..=today.year() + 1, &mut rng);
    let visits = busy_weeks(&world, from, today, &mut rng);
    let mut simulation = Simulation::new(&world, &visits, from, today, &mut rng);
    for day in from.iter_days().take_while(|day| *day < today) {
        simulation.live(day, &mut rng);
    }
    simulation.into_facts()
}

/// A calendar whose next three weeks are neither empty nor full, with a job on the first day.
fn busy_weeks(world: &World, from: NaiveDate, today: NaiveDate, rng: &mut Rng) -> Vec<Visit> {
    const TRIES: usize = 400;
    let first = today.iter_days().find(|day| world.shop().is_open(*day));
    let shows = |visits: &Vec<Visit>| {
        let ahead = visits.iter().filter(|visit| visit.is_ahead(today));
        (10..=14).contains(&ahead.clone().count())
            && ahead.clone().any(|visit| Some(visit.day) == first)
            && ahead.filter(|visit| visit.services.len() == 3).count() > 1
    };
    let mut visits = calendar::visits(world, from, today, rng);
    for _ in 0..TRIES {
        if shows(&visits) {
            break;
        }
        visits = calendar::visits(world, from, today, rng);
    }
    visits
}

/// An id out of this crate's tables.
fn id(text: &str) -> Id {
    known(Id::parse(text).ok())
}

/// What this crate's own tables write out is right: every one of them is read in the tests.
fn known<T>(value: Option<T>) -> T {
    value.unwrap_or_else(|| unreachable!("a table of the demo shop holds what cannot be read"))
}
