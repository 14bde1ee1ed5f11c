//! Every vehicle that will come, whoever runs the shop.

use std::f64::consts::TAU;

use capful_domain::{Condition, Facts, Id, Job, JobStatus, VehicleSize};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};

use crate::chance::{For, Random, between, choose, happens, normal, poisson, stream, uniform};
use crate::id;
use crate::recipe::Recipe;
use crate::set_up::{SetUp, size_and_condition};

/// How the days of a week compare, Monday first.
const WEEK: [f64; 7] = [0.8, 0.9, 1.0, 1.1, 1.3, 0.9, 0.0];
const MOST_A_DAY: usize = 9;
const CANCELLED: f64 = 0.06;

/// One vehicle.
#[derive(Debug, Clone)]
pub struct Visit {
    /// The job's id.
    pub job: Id,
    /// The day it comes.
    pub day: NaiveDate,
    /// The day it is booked.
    pub booked_on: NaiveDate,
    /// The day it is called off, if it is.
    pub cancelled_on: Option<NaiveDate>,
    /// Places of its job types.
    pub job_types: Vec<usize>,
    /// Its size.
    pub size: VehicleSize,
    /// Its condition.
    pub condition: Condition,
    /// Its place among the vehicles of its day.
    pub place_in_day: usize,
}

impl Visit {
    /// Whether it came.
    #[must_use]
    pub const fn came(&self) -> bool {
        self.cancelled_on.is_none()
    }

    pub(crate) fn hours(&self) -> (f64, f64) {
        let start = 8.5 + 1.5 * self.place_in_day as f64;
        (start, start + 1.25)
    }

    /// The job as it will have been.
    pub(crate) fn job(&self, facts: &Facts) -> Job {
        let booked_at = if self.booked_on == self.day { 7.5 } else { 12.0 };
        let (from, to) = self.hours();
        let at = |hours| at(facts, self.day, hours);
        Job {
            id: self.job.clone(),
            booked_at: self::at(facts, self.booked_on, booked_at),
            planned_on: self.day,
            status: if self.came() { JobStatus::Done } else { JobStatus::Cancelled },
            job_types: self.job_types.iter().map(|t| facts.job_types[*t].id.clone()).collect(),
            size: self.size,
            condition: self.condition,
            started_at: self.came().then(|| at(from)),
            finished_at: self.came().then(|| at(to)),
            cancelled_at: self.cancelled_on.map(|day| self::at(facts, day, 16.0)),
            vehicle: None,
            price: None,
        }
    }
}

/// So many hours after a day's midnight, in the shop's zone.
pub(crate) fn at(facts: &Facts, day: NaiveDate, hours: f64) -> DateTime<Utc> {
    let minutes = (hours * 60.0).round() as i64;
    facts.shop.moment(day.and_time(chrono::NaiveTime::MIN) + chrono::Duration::minutes(minutes))
}

/// Draws every vehicle of the recipe's weeks, by day.
pub(crate) fn visits(recipe: &Recipe, set_up: &SetUp, seed: u64) -> Vec<Visit> {
    let random = &mut stream(seed, For::Calendar, 0);
    let (low, high) = recipe.vehicles_a_week;
    let a_week = between(random, low, high);
    let season = (between(random, 0.0, 0.35), between(random, 0.0, 365.0));
    let drift = normal(random, 0.0, 0.1);
    let shop = &set_up.facts.shop;
    let days = 7 * u64::from(recipe.weeks);
    let mut drawn: Vec<Visit> = Vec::new();
    for ahead in 0..days {
        let day = recipe.first_day + Days::new(ahead);
        let weekday = day.weekday().num_days_from_monday() as usize;
        let turn = TAU * (f64::from(day.ordinal0()) - season.1) / 365.25;
        let years = ahead as f64 / 365.25;
        let rate = a_week * WEEK[weekday] / WEEK.iter().sum::<f64>()
            * (1.0 + season.0 * turn.cos())
            * (drift * years).exp();
        let count = poisson(random, rate) as usize;
        if shop.is_open(day) {
            for _ in 0..count {
                drawn.push(visit(set_up, day, random));
            }
        }
    }
    let back: Vec<Visit> =
        drawn.iter().filter_map(|visit| coming_back(recipe, set_up, visit, random)).collect();
    drawn.extend(back);
    drawn.sort_by_key(|visit| visit.day);
    number(drawn)
}

fn visit(set_up: &SetUp, day: NaiveDate, random: &mut Random) -> Visit {
    let mut job_types = vec![choose(random, &set_up.type_chances)];
    let other = choose(random, &set_up.type_chances);
    if happens(random, 0.25) && other != job_types[0] {
        job_types.push(other);
    }
    let (size, condition) = size_and_condition(random);
    let mut visit = Visit {
        job: id("j"),
        day,
        booked_on: day,
        cancelled_on: None,
        job_types,
        size,
        condition,
        place_in_day: 0,
    };
    book(&mut visit, random);
    visit
}

/// When it is booked, and whether it is called off again.
fn book(visit: &mut Visit, random: &mut Random) {
    let lead = normal(random, 1.7, 0.8).exp().min(60.0);
    let lead = if happens(random, 0.15) { 0 } else { lead.round() as u64 };
    visit.booked_on = visit.day - Days::new(lead);
    let at = (uniform(random) * lead as f64) as u64;
    let called_off = happens(random, CANCELLED) && lead > 0;
    visit.cancelled_on = called_off.then(|| visit.booked_on + Days::new(at));
}

/// A share of some job types comes back, on a day near the one it is due.
fn coming_back(
    recipe: &Recipe,
    set_up: &SetUp,
    visit: &Visit,
    random: &mut Random,
) -> Option<Visit> {
    let first = *visit.job_types.first()?;
    let rule = set_up.facts.job_types[first].comes_back.as_ref()?;
    let share: f64 = rule.share.try_into().unwrap_or(0.0);
    let stray = normal(random, 0.0, 6.0).round() as i64;
    let comes = happens(random, share) && visit.came();
    let due = visit.day + Days::new(rule.days.into());
    let day = due + chrono::Duration::days(stray);
    let last = recipe.first_day + Days::new(7 * u64::from(recipe.weeks));
    let open = day.iter_days().find(|day| set_up.facts.shop.is_open(*day))?;
    let mut back = Visit { day: open, job_types: vec![first], ..visit.clone() };
    book(&mut back, random);
    (comes && open < last && back.booked_on > visit.day).then_some(back)
}

/// Names the jobs, and leaves out what no day has room for.
fn number(drawn: Vec<Visit>) -> Vec<Visit> {
    let mut kept: Vec<Visit> = Vec::new();
    for mut visit in drawn {
        let place = kept.iter().rev().take_while(|other| other.day == visit.day).count();
        if place < MOST_A_DAY {
            visit.place_in_day = place;
            visit.job = id(&format!("j{}", kept.len()));
            kept.push(visit);
        }
    }
    kept
}
