//! Simulated shops whose truth is known: what they wrote down, as facts, and what was really so.
//!
//! Nothing here is shared with what learns from it.

#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, missing_docs)]

pub mod calendar_shop;
pub mod deliveries;
pub mod returns_shop;
pub mod usage_shop;

use capful_domain::catalog::SheetRow;
use capful_domain::facts::{Method, Pour, Receipt};
use capful_domain::{
    Amount, Condition, Currency, Facts, Id, Job, JobStatus, Money, Product, Shop, Unit, VehicleSize,
};
use chrono::{DateTime, Days, NaiveDate, Utc};
use rand_distr::{Distribution, Gamma, Normal, Poisson, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use rust_decimal::Decimal;

pub type Random = Xoshiro256PlusPlus;

pub fn random(seed: u64) -> Random {
    Random::seed_from_u64(seed)
}

pub fn uniform(random: &mut Random) -> f64 {
    StandardUniform.sample(random)
}

pub fn between(random: &mut Random, low: f64, high: f64) -> f64 {
    low + (high - low) * uniform(random)
}

pub fn normal(random: &mut Random, mean: f64, sd: f64) -> f64 {
    Normal::new(mean, sd).unwrap().sample(random)
}

/// A Gamma quantity of this mean and coefficient of variation.
pub fn gamma(random: &mut Random, mean: f64, cv: f64) -> f64 {
    Gamma::new(cv.powi(-2), mean * cv * cv).unwrap().sample(random)
}

pub fn poisson(random: &mut Random, mean: f64) -> u32 {
    let drawn: f64 = Poisson::new(mean).unwrap().sample(random);
    drawn as u32
}

/// A place, with these chances.
pub fn choose(random: &mut Random, chances: &[f64]) -> usize {
    let mut left = uniform(random) * chances.iter().sum::<f64>();
    for (place, chance) in chances.iter().enumerate() {
        left -= chance;
        if left < 0.0 {
            return place;
        }
    }
    chances.len() - 1
}

pub fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

/// To the thousandth, as somebody would write it.
pub fn decimal(number: f64) -> Decimal {
    Decimal::new((number * 1000.0).round() as i64, 3)
}

pub fn millilitres(number: f64) -> Amount {
    Amount { number: decimal(number), unit: Unit::Ml }
}

pub fn empty_shop() -> Facts {
    let currency = Currency::parse("CAD").unwrap();
    Facts::new(Shop::new("Simulated", chrono_tz::America::Halifax, currency))
}

/// So many hours after a day's midnight, in the shop's zone.
pub fn at(facts: &Facts, day: NaiveDate, hours: f64) -> DateTime<Utc> {
    let minutes = (hours * 60.0).round() as i64;
    let time = day.and_hms_opt(0, 0, 0).unwrap() + chrono::Duration::minutes(minutes);
    facts.shop.moment(time)
}

pub fn later(day: NaiveDate, days: i64) -> NaiveDate {
    let whole = Days::new(days.unsigned_abs());
    if days < 0 { day - whole } else { day + whole }
}

pub fn product(name: &str, container_ml: f64) -> Product {
    Product::new(id(name), name, millilitres(container_ml))
}

pub fn sheet_row(job_type: &str, product: &str, ml: f64, share: f64) -> SheetRow {
    SheetRow {
        job_type: id(job_type),
        product: id(product),
        amount: millilitres(ml),
        ratio: None,
        share_of_jobs: (share < 1.0).then(|| decimal(share)),
        log_sd: None,
    }
}

/// A job booked at noon some days ahead; not done yet.
pub fn booked(facts: &Facts, number: usize, day: NaiveDate, lead_days: i64) -> Job {
    Job {
        id: id(&format!("j{number}")),
        booked_at: at(facts, later(day, -lead_days), if lead_days > 0 { 12.0 } else { 7.5 }),
        planned_on: day,
        status: JobStatus::Booked,
        job_types: Vec::new(),
        size: VehicleSize::Medium,
        condition: Condition::REFERENCE,
        started_at: None,
        finished_at: None,
        cancelled_at: None,
        vehicle: None,
        price: None,
    }
}

/// The same job, done between these hours of its day.
pub fn done(facts: &Facts, job: Job, from: f64, to: f64) -> Job {
    Job {
        status: JobStatus::Done,
        started_at: Some(at(facts, job.planned_on, from)),
        finished_at: Some(at(facts, job.planned_on, to)),
        ..job
    }
}

pub fn measured_pour(facts: &mut Facts, when: DateTime<Utc>, job: &Id, product: &Id, ml: f64) {
    facts.pours.push(Pour {
        id: id(&format!("p{}", facts.pours.len())),
        at: when,
        product: product.clone(),
        amount: millilitres(ml),
        job: Some(job.clone()),
        ratio: None,
        container: None,
        method: Some(Method::Measured),
    });
}

pub fn receipt(facts: &mut Facts, when: DateTime<Utc>, product: &Id, containers: u32) {
    facts.receipts.push(Receipt {
        id: id(&format!("r{}", facts.receipts.len())),
        at: when,
        product: product.clone(),
        containers,
        unit_cost: Money::from_minor(2000),
        supplier: None,
        lot: None,
        best_before: None,
        order: None,
        container_size: None,
    });
}

/// Largest distance of a sample's distribution from the uniform one on 0 to 1.
pub fn distance_from_uniform(sample: &[f64]) -> f64 {
    let mut sorted = sample.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = sorted.len() as f64;
    let off = |(place, x): (usize, &f64)| {
        (x - place as f64 / count).abs().max(((place + 1) as f64 / count - x).abs())
    };
    sorted.iter().enumerate().map(off).fold(0.0, f64::max)
}

/// What the distance stays below with a chance of 999 in 1000 (Kolmogorov 1933; large samples).
pub fn distance_bound(count: usize) -> f64 {
    1.949_5 / (count as f64).sqrt()
}

pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Of the mean of independent values.
pub fn standard_error(values: &[f64]) -> f64 {
    let own = mean(values);
    let squares: f64 = values.iter().map(|v| (v - own).powi(2)).sum();
    let count = values.len() as f64;
    (squares / (count - 1.0) / count).sqrt()
}
