//! The demo shop: invented, brand-free, with eighteen months of history from a seed.
//!
//! Behind it stands a hidden shop that is simulated day by day: what each job truly takes, what
//! truly stands on the shelf. What the owner writes down of it, and believes of it, are the
//! facts. Pure: no clock, no files; the same day and seed give the same facts.

mod calendar;
mod chance;
mod counting;
mod day;
mod last_weeks;
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
use crate::world::{Line, World};

/// Histories that are tried until one shows everything on its last morning.
const ROUNDS: u32 = 5;
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
    let mut best = (0, world.facts.clone());
    for round in 0..ROUNDS {
        let visits = busy_weeks(&world, from, today, &mut rng);
        let (shown, simulation) = history(&world, &visits, from, today, &mut rng);
        if round == 0 || shown > best.0 {
            best = (shown, simulation.into_facts());
        }
        if shown == last_weeks::ALL {
            break;
        }
    }
    best.1
}

/// Lives from the first day to the morning of `today`.
fn history<'a>(
    world: &'a World,
    visits: &'a [Visit],
    from: NaiveDate,
    today: NaiveDate,
    rng: &mut Rng,
) -> (u32, Simulation<'a>) {
    let mut simulation = Simulation::new(world, visits, from, today, rng);
    let last_weeks = (today - last_weeks::AGAIN).max(from);
    for day in from.iter_days().take_while(|day| *day < last_weeks) {
        simulation.live(day, rng);
    }
    last_weeks::live(&simulation, last_weeks, today, rng)
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
            && leaves_a_coating_open(world, visits, today)
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

/// Whether a coating was on some vehicle so long ago that its bottle, opened then, goes off soon,
/// and on none after it.
fn leaves_a_coating_open(world: &World, visits: &[Visit], today: NaiveDate) -> bool {
    let coats = |line: &&Line| world.product(line.product).category.as_deref() == Some("coating");
    world.lines.iter().filter(coats).any(|line| {
        let on = visits.iter().filter(|v| v.cancelled.is_none() && v.day < today);
        let last = on.filter(|v| v.services.contains(&line.service)).map(|v| v.day).max();
        let life = world.product(line.product).open_days.unwrap_or(0);
        let left = |day: NaiveDate| i64::from(life) - (today - day).num_days();
        last.is_some_and(|day| (2..9).contains(&left(day)))
    })
}

/// An id out of this crate's tables.
fn id(text: &str) -> Id {
    known(Id::parse(text).ok())
}

/// What this crate's own tables write out is right: every one of them is read in the tests.
fn known<T>(value: Option<T>) -> T {
    value.unwrap_or_else(|| unreachable!("a table of the demo shop holds what cannot be read"))
}
