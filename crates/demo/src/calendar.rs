//! Which vehicles come: bookings made some days ahead, walk-ins, returns, cancellations.

use std::collections::BTreeMap;

use capful_domain::{Condition, Id, Job, JobStatus, Money, Shop, VehicleSize};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc, Weekday};
use rand::RngExt;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::chance::{Rng, gamma, normal, pick, poisson, weighted};
use crate::services::BUNDLES;
use crate::world::{World, season};

/// How far ahead bookings are taken, in days.
pub const AHEAD_DAYS: u64 = 21;
const MOST_A_DAY: u32 = 4;
const CANCELLED: f64 = 0.06;
const WALK_IN: f64 = 0.14;

/// A moment of the shop's working time: a day, and minutes after midnight.
pub type Moment = (NaiveDate, u32);

/// One vehicle's visit.
#[derive(Debug, Clone)]
pub struct Visit {
    /// When the booking was made.
    pub booked: Moment,
    /// The day it comes.
    pub day: NaiveDate,
    /// Places of its job types.
    pub services: Vec<usize>,
    /// Size of the vehicle.
    pub size: VehicleSize,
    /// Condition of the vehicle.
    pub condition: Condition,
    /// When it was called off.
    pub cancelled: Option<Moment>,
    /// Which vehicle.
    pub vehicle: String,
    /// Minutes after midnight when work begins and ends.
    pub work: (u32, u32),
}

impl Visit {
    /// Whether it is still to come.
    pub fn is_ahead(&self, today: NaiveDate) -> bool {
        self.cancelled.is_none() && self.day >= today
    }
}

/// A moment of working time as a moment.
pub fn moment(shop: &Shop, (day, minute): Moment) -> DateTime<Utc> {
    let time = chrono::NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0);
    shop.moment(day.and_time(time.unwrap_or_default()))
}

/// A vehicle that comes back.
struct Return {
    service: usize,
    vehicle: String,
    size: VehicleSize,
}

/// The visits from `from` on that were booked before `today`, in the order of their bookings.
pub fn visits(world: &World, from: NaiveDate, today: NaiveDate, rng: &mut Rng) -> Vec<Visit> {
    let mut visits: Vec<Visit> = Vec::new();
    let mut returns: BTreeMap<NaiveDate, Vec<Return>> = BTreeMap::new();
    let days = from.iter_days().take_while(|day| *day < today + Days::new(AHEAD_DAYS));
    for day in days.filter(|day| world.shop().is_open(*day)) {
        let mut due = returns.split_off(&(day + Days::new(1)));
        std::mem::swap(&mut due, &mut returns);
        let mut back: Vec<Return> = due.into_values().flatten().collect();
        let fresh = poisson(rng, rate(day)).min(MOST_A_DAY);
        for place in 0..fresh as usize + back.len() {
            let visit = visit(world, from, day, place, back.pop(), rng);
            for (day, again) in come_back(world, &visit, rng) {
                returns.entry(day).or_default().push(again);
            }
            visits.push(visit);
        }
    }
    visits.retain(|visit| visit.booked.0 < today);
    for visit in &mut visits {
        visit.cancelled = visit.cancelled.filter(|when| when.0 < today);
    }
    visits.sort_by_key(|visit| (visit.booked, visit.day));
    visits
}

/// Vehicles expected on a day, those that come back not counted.
fn rate(day: NaiveDate) -> f64 {
    let week = match day.weekday() {
        Weekday::Mon => 0.7,
        Weekday::Tue => 0.9,
        Weekday::Wed => 1.0,
        Weekday::Thu => 1.2,
        Weekday::Fri => 1.8,
        Weekday::Sat => 1.7,
        Weekday::Sun => 0.0,
    };
    week * season(day)
}

fn visit(
    world: &World,
    from: NaiveDate,
    day: NaiveDate,
    place: usize,
    back: Option<Return>,
    rng: &mut Rng,
) -> Visit {
    let returning = back.is_some();
    let sold = match back {
        Some(back) => (vec![back.service], back.size, back.vehicle),
        None => sold(world, rng),
    };
    let (services, size, vehicle) = sold;
    let booked = booked(world, from, day, services.len() < 3 && !returning, rng);
    let weights = if returning { [30, 40, 25, 5, 0] } else { [8, 22, 38, 22, 10] };
    let grade = u8::try_from(weighted(rng, &weights) + 1).unwrap_or(3);
    let condition = Condition::new(grade).unwrap_or(Condition::REFERENCE);
    Visit {
        booked,
        day,
        work: work(world, place, &services, size, condition, rng),
        services,
        size,
        condition,
        cancelled: cancelled(world, booked, day, rng),
        vehicle,
    }
}

/// What is asked for, on which vehicle.
fn sold(world: &World, rng: &mut Rng) -> (Vec<usize>, VehicleSize, String) {
    let weights = BUNDLES.map(|bundle| bundle.1);
    let (services, _) = BUNDLES[weighted(rng, &weights)];
    let size = VehicleSize::ALL[weighted(rng, &[22, 40, 28, 10])];
    let services = services.iter().filter_map(|id| world.service(id)).collect();
    (services, size, vehicle(size, rng))
}

fn booked(
    world: &World,
    from: NaiveDate,
    day: NaiveDate,
    may_walk_in: bool,
    rng: &mut Rng,
) -> Moment {
    let walks_in = may_walk_in && rng.random_bool(WALK_IN);
    let lead = (1.0 + gamma(rng, 8.5, 0.7)).min(20.0) as u64;
    let minute = rng.random_range(485..1075);
    let early = if walks_in { day } else { day - Days::new(lead) };
    let open = early.iter_days().rev().take(5).find(|day| world.shop().is_open(*day));
    match open {
        Some(open) if open >= from && open < day => (open, minute),
        _ => (day, 480 + minute % 25),
    }
}

fn cancelled(world: &World, booked: Moment, day: NaiveDate, rng: &mut Rng) -> Option<Moment> {
    let days = (day - booked.0).num_days();
    if days < 2 || !rng.random_bool(CANCELLED) {
        return None;
    }
    let wished = booked.0 + Days::new(rng.random_range(1..days).unsigned_abs());
    let minute = rng.random_range(490..1070);
    let open = wished.iter_days().take(5).find(|day| world.shop().is_open(*day))?;
    Some(if open < day { (open, minute) } else { (day, 480 + minute % 20) })
}

/// When work begins and ends: vehicles come in one after the other and share the bays.
fn work(
    world: &World,
    place: usize,
    services: &[usize],
    size: VehicleSize,
    condition: Condition,
    rng: &mut Rng,
) -> (u32, u32) {
    const BEGIN: [u32; 6] = [510, 525, 630, 720, 780, 810];
    let begin = BEGIN[place.min(BEGIN.len() - 1)] + rng.random_range(0..15);
    let factor = |number: Decimal| number.to_f64().unwrap_or(1.0);
    let shop = world.shop();
    let minutes: u32 = services.iter().map(|service| world.minutes[*service]).sum();
    let harder = factor(shop.size_factor(size)) * factor(shop.condition_factor(condition)).sqrt();
    let takes = (gamma(rng, f64::from(minutes), 0.1) * harder) as u32;
    (begin, (begin + takes.max(40)).min(1050 + rng.random_range(0..25)))
}

fn come_back(world: &World, visit: &Visit, rng: &mut Rng) -> Vec<(NaiveDate, Return)> {
    let mut back = Vec::new();
    if visit.cancelled.is_some() {
        return back;
    }
    for &service in &visit.services {
        let Some(rule) = &world.facts.job_types[service].comes_back else { continue };
        if !rng.random_bool(rule.share.to_f64().unwrap_or(0.0)) {
            continue;
        }
        let days = normal(rng, f64::from(rule.days), f64::from(rule.days).sqrt() * 0.8);
        let next = rule.job_type.as_ref().and_then(|id| world.service(id.as_str()));
        let again = Return {
            service: next.unwrap_or(service),
            vehicle: visit.vehicle.clone(),
            size: visit.size,
        };
        back.push((visit.day + Days::new(days.max(7.0) as u64), again));
    }
    back
}

fn vehicle(size: VehicleSize, rng: &mut Rng) -> String {
    const COLOURS: [&str; 8] = ["grey", "white", "black", "blue", "red", "silver", "green", "sand"];
    let bodies: [&str; 2] = match size {
        VehicleSize::Small => ["hatchback", "two-seater"],
        VehicleSize::Medium => ["saloon", "estate"],
        VehicleSize::Large => ["SUV", "crossover"],
        VehicleSize::Oversize => ["van", "pickup"],
    };
    let plate = format!("GUL {:03}", rng.random_range(1..1000));
    format!("{} {}, {plate}", pick(rng, &COLOURS), pick(rng, &bodies))
}

/// The visit as the shop writes it down, on the morning of `today`.
pub fn job(world: &World, visit: &Visit, id: Id, today: NaiveDate) -> Job {
    let shop = world.shop();
    let at = |minute| moment(shop, (visit.day, minute));
    let done = visit.cancelled.is_none() && visit.day < today;
    let status = match visit.cancelled {
        Some(_) => JobStatus::Cancelled,
        None if done => JobStatus::Done,
        None => JobStatus::Booked,
    };
    Job {
        id,
        booked_at: moment(shop, visit.booked),
        planned_on: visit.day,
        status,
        job_types: visit.services.iter().map(|s| world.facts.job_types[*s].id.clone()).collect(),
        size: visit.size,
        condition: visit.condition,
        started_at: Some(at(visit.work.0)).filter(|_| done),
        finished_at: Some(at(visit.work.1)).filter(|_| done),
        cancelled_at: visit.cancelled.map(|when| moment(shop, when)),
        vehicle: Some(visit.vehicle.clone()),
        price: Some(price(world, visit)),
    }
}

/// The list price by size, to five dollars.
fn price(world: &World, visit: &Visit) -> Money {
    let percent = [90, 100, 115, 135][visit.size.index()];
    let types = &world.facts.job_types;
    let list: Money = visit.services.iter().filter_map(|service| types[*service].price).sum();
    list.share(percent, 100 * 500).times(500)
}
