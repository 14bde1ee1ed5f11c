//! A shop whose visits come at a known rate, are booked a known time ahead and sometimes called
//! off.

use std::f64::consts::TAU;

use capful_domain::catalog::JobType;
use capful_domain::{Facts, JobStatus};
use chrono::{DateTime, Datelike, NaiveDate, Utc, Weekday};

use super::{
    Random, at, between, booked, choose, done, empty_shop, gamma, id, later, measured_pour, normal,
    poisson, product, sheet_row, uniform,
};

const CV: f64 = 0.3;
/// A wash takes soap; a polish takes soap and polish.
pub const PRODUCTS: [&str; 2] = ["soap", "polish"];
const TYPES: [&str; 2] = ["wash", "polish"];
/// mL of each product that a visit of each type takes on average; the sheet is right.
const TAKES: [[f64; 2]; 2] = [[40.0, 0.0], [60.0, 25.0]];
/// Days booked ahead, 0 to 17, each with its chance: today, or a week off and about.
const LEADS: [f64; 18] = [
    0.15, 0.1, 0.08, 0.07, 0.06, 0.06, 0.08, 0.09, 0.08, 0.06, 0.04, 0.03, 0.03, 0.02, 0.02, 0.01,
    0.01, 0.01,
];

/// The rate of all bookings (also those called off) of an open day, and what they are.
#[derive(Debug, Clone)]
pub struct Rate {
    log_rate: f64,
    weekday: [f64; 7],
    year: [f64; 4],
    drift_a_year: f64,
    polish_share: f64,
    cancelled: f64,
}

/// A visit that somebody booked.
struct Visit {
    day: NaiveDate,
    lead: i64,
    polish: usize,
    /// When it is called off, as a share of the time between its booking and its day.
    called_off: Option<f64>,
    takes: [f64; 2],
}

pub struct CalendarShop {
    rate: Rate,
    first_day: NaiveDate,
    visits: Vec<Visit>,
    pub facts: Facts,
}

impl Rate {
    pub fn draw(random: &mut Random) -> Self {
        Self {
            log_rate: between(random, 0.9, 2.4).ln(),
            weekday: [0; 7].map(|_| normal(random, 0.0, 0.35)),
            year: [0.2, 0.2, 0.1, 0.1].map(|sd| normal(random, 0.0, sd)),
            drift_a_year: normal(random, 0.0, 0.2),
            polish_share: between(random, 0.2, 0.5),
            cancelled: between(random, 0.03, 0.12),
        }
    }

    fn of(&self, day: NaiveDate, first_day: NaiveDate) -> f64 {
        if day.weekday() == Weekday::Sun {
            return 0.0;
        }
        let year = TAU * f64::from(day.ordinal0()) / 365.25;
        let waves = [year.sin(), year.cos(), (2.0 * year).sin(), (2.0 * year).cos()];
        let season: f64 = self.year.iter().zip(waves).map(|(b, x)| b * x).sum();
        let years = (day - first_day).num_days() as f64 / 365.25;
        let weekday = self.weekday[day.weekday().num_days_from_monday() as usize];
        (self.log_rate + weekday + season + self.drift_a_year * years).exp()
    }

    /// What one visit takes on average of a product.
    fn takes(&self, product: usize) -> f64 {
        let [wash, polish] = TAKES.map(|takes| takes[product]);
        wash + self.polish_share * (polish - wash)
    }
}

impl CalendarShop {
    /// A shop that opened so many days before its calendar ends.
    pub fn simulate(seed: u64, days: i64) -> Self {
        let mut random = super::random(seed);
        let rate = Rate::draw(&mut random);
        // Any season may be the last one.
        let week = (seed % 52) as i64;
        let start = later(NaiveDate::from_ymd_opt(2023, 1, 2).unwrap(), 7 * week);
        let mut visits = Vec::new();
        for day in (0..days).map(|ahead| later(start, ahead)) {
            for _ in 0..poisson(&mut random, rate.of(day, start).max(1e-12)) {
                visits.push(visit(&mut random, &rate, day));
            }
        }
        let mut shop = Self { rate, first_day: start, visits, facts: facts() };
        shop.write_down();
        shop
    }

    /// The first moment of a day, counted from the first.
    pub fn moment(&self, day: i64) -> DateTime<Utc> {
        at(&self.facts, later(self.first_day, day), 0.0)
    }

    fn write_down(&mut self) {
        for (number, visit) in self.visits.iter().enumerate() {
            let mut job = booked(&self.facts, number, visit.day, visit.lead);
            job.job_types = vec![id(TYPES[visit.polish])];
            if visit.called_off.is_some() {
                job.status = JobStatus::Cancelled;
                job.cancelled_at = Some(self.called_off_at(visit));
                self.facts.jobs.push(job);
                continue;
            }
            let job = done(&self.facts, job, 9.0, 12.0);
            let end = job.finished_at.unwrap();
            for (product, ml) in PRODUCTS.iter().zip(visit.takes).filter(|(_, ml)| *ml > 0.0) {
                measured_pour(&mut self.facts, end, &job.id, &id(product), ml);
            }
            self.facts.jobs.push(job);
        }
    }

    fn times(&self, visit: &Visit) -> (DateTime<Utc>, DateTime<Utc>) {
        let made = booked(&self.facts, 0, visit.day, visit.lead).booked_at;
        (made, at(&self.facts, visit.day, 8.0))
    }

    fn called_off_at(&self, visit: &Visit) -> DateTime<Utc> {
        let (made, comes) = self.times(visit);
        let seconds = (comes - made).num_seconds() as f64 * visit.called_off.unwrap_or(1.0);
        made + chrono::Duration::seconds(seconds as i64)
    }

    /// What the visits of the days from `from` on really take of a product.
    pub fn taken(&self, product: usize, from: i64, days: i64) -> f64 {
        let first = later(self.first_day, from);
        let last = later(first, days);
        let kept = self.visits.iter().filter(|v| v.called_off.is_none());
        kept.filter(|v| first <= v.day && v.day < last).map(|v| v.takes[product]).sum()
    }

    /// What they take on average, given what is booked at that day's first moment: booked visits
    /// with the chance that they are not called off yet will be, and the ones still to be booked.
    pub fn expected(&self, product: usize, from: i64, days: i64) -> (f64, f64) {
        let first = later(self.first_day, from);
        let now = self.moment(from);
        let (mut of_booked, mut of_others) = (0.0, 0.0);
        for visit in &self.visits {
            let ahead = (visit.day - first).num_days();
            let (made, comes) = self.times(visit);
            let off = visit.called_off.is_some() && self.called_off_at(visit) <= now;
            if (0..days).contains(&ahead) && made <= now && !off {
                let gone = (now - made).num_seconds() as f64 / (comes - made).num_seconds() as f64;
                let kept = 1.0 - self.rate.cancelled;
                let kept = kept / (kept + self.rate.cancelled * (1.0 - gone));
                of_booked += kept * TAKES[visit.polish][product];
            }
        }
        for ahead in 0..days {
            let day = later(first, ahead);
            let not_booked: f64 = LEADS.iter().take(ahead as usize + 1).sum();
            let rate = self.rate.of(day, self.first_day) * (1.0 - self.rate.cancelled);
            of_others += rate * not_booked * self.rate.takes(product);
        }
        (of_booked, of_others)
    }
}

fn visit(random: &mut Random, rate: &Rate, day: NaiveDate) -> Visit {
    let polish = usize::from(uniform(random) < rate.polish_share);
    let takes = TAKES[polish];
    Visit {
        day,
        lead: choose(random, &LEADS) as i64,
        polish,
        called_off: (uniform(random) < rate.cancelled).then(|| uniform(random)),
        takes: takes.map(|ml| if ml > 0.0 { gamma(random, ml, CV) } else { 0.0 }),
    }
}

fn facts() -> Facts {
    let mut facts = empty_shop();
    for name in PRODUCTS {
        facts.products.push(product(name, 5000.0));
    }
    for (name, takes) in TYPES.iter().zip(TAKES) {
        facts.job_types.push(job_type(name));
        for (product, ml) in PRODUCTS.iter().zip(takes).filter(|(_, ml)| *ml > 0.0) {
            facts.usage_sheet.push(sheet_row(name, product, ml, 1.0));
        }
    }
    facts
}

pub fn job_type(name: &str) -> JobType {
    JobType { id: id(name), name: name.to_owned(), price: None, stall_cost: None, comes_back: None }
}
