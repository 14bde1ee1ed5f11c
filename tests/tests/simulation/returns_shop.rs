//! A shop whose coated vehicles come back for care some weeks later, and where others come for care
//! too.

use capful_domain::catalog::ComesBack;
use capful_domain::{Facts, Job};
use chrono::{DateTime, NaiveDate, Utc};

use super::calendar_shop::job_type;
use super::{
    at, booked, decimal, done, empty_shop, id, later, measured_pour, normal, poisson, product,
    sheet_row, uniform,
};

pub const RETURN_DAYS: u32 = 60;
pub const RETURN_SHARE: f64 = 0.6;
const STRAYS_DAYS: f64 = 10.0;
/// mL that one care takes.
pub const CARE_ML: f64 = 30.0;
const COATINGS_A_DAY: f64 = 0.5;
const OTHER_CARES_A_DAY: f64 = 0.2;

pub struct ReturnsShop {
    first_day: NaiveDate,
    pub facts: Facts,
}

impl ReturnsShop {
    /// A shop with a calendar of so many days. Vehicles that come back book a week ahead.
    pub fn simulate(seed: u64, days: i64) -> Self {
        let mut random = super::random(seed);
        let first_day = NaiveDate::from_ymd_opt(2023, 5, 1).unwrap();
        let mut shop = Self { first_day, facts: facts() };
        for day in 0..days {
            for _ in 0..poisson(&mut random, COATINGS_A_DAY) {
                let vehicle = format!("V{}", shop.facts.jobs.len());
                shop.visit("coating", day, 5, &vehicle);
                if uniform(&mut random) < RETURN_SHARE {
                    let back = f64::from(RETURN_DAYS) + normal(&mut random, 0.0, STRAYS_DAYS);
                    shop.visit("care", day + back.round() as i64, 7, &vehicle);
                }
            }
            for _ in 0..poisson(&mut random, OTHER_CARES_A_DAY) {
                let lead = (7.0 * uniform(&mut random)) as i64;
                let vehicle = format!("V{}", shop.facts.jobs.len());
                shop.visit("care", day, lead, &vehicle);
            }
        }
        shop
    }

    fn visit(&mut self, what: &str, day: i64, lead: i64, vehicle: &str) {
        let day = later(self.first_day, day);
        let job = booked(&self.facts, self.facts.jobs.len(), day, lead);
        let mut job = done(&self.facts, job, 9.0, 12.0);
        job.job_types = vec![id(what)];
        job.vehicle = Some(vehicle.to_owned());
        let end = job.finished_at.unwrap();
        measured_pour(&mut self.facts, end, &job.id, &id(what), CARE_ML);
        self.facts.jobs.push(job);
    }

    pub fn moment(&self, day: i64) -> DateTime<Utc> {
        at(&self.facts, later(self.first_day, day), 0.0)
    }

    /// Cares done on the days from `from` on.
    pub fn cares(&self, from: i64, days: i64) -> f64 {
        let (first, last) = (later(self.first_day, from), later(self.first_day, from + days));
        let care = id("care");
        let is_care = |j: &&Job| j.job_types.contains(&care);
        let jobs = self.facts.jobs.iter().filter(is_care);
        jobs.filter(|j| first <= j.planned_on && j.planned_on < last).count() as f64
    }
}

/// Open every day; each job type has a product of its own name.
fn facts() -> Facts {
    let mut facts = empty_shop();
    facts.shop.closed.clear();
    for name in ["coating", "care"] {
        facts.products.push(product(name, 5000.0));
        facts.job_types.push(job_type(name));
        facts.usage_sheet.push(sheet_row(name, name, CARE_ML, 1.0));
    }
    let (days, share) = (RETURN_DAYS, decimal(RETURN_SHARE));
    facts.job_types[0].comes_back = Some(ComesBack { days, share, job_type: Some(id("care")) });
    facts
}

/// A shop that has coated one vehicle, due back in a fortnight, and nothing else.
pub struct OneVehicle {
    pub comes_back: bool,
    pub is_booked: bool,
}

impl OneVehicle {
    pub fn facts(&self) -> (Facts, DateTime<Utc>) {
        let first_day = NaiveDate::from_ymd_opt(2025, 2, 3).unwrap();
        let mut shop = ReturnsShop { first_day, facts: facts() };
        shop.visit("coating", 0, 5, "V1");
        if !self.comes_back {
            shop.facts.job_types[0].comes_back = None;
        }
        if self.is_booked {
            shop.visit("care", RETURN_DAYS.into(), 20, "V1");
        }
        let moment = shop.moment(i64::from(RETURN_DAYS) - 14);
        (shop.facts, moment)
    }
}
