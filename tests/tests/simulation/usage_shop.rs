//! A shop that does known work with a known thirst, and writes down much or little of it.

use std::collections::HashMap;

use capful_domain::catalog::JobType;
use capful_domain::facts::{Count, Opening};
use capful_domain::{Condition, Facts, Id, VehicleSize};
use chrono::{DateTime, Datelike, NaiveDate, Utc, Weekday};

use super::{
    Random, at, between, booked, choose, decimal, done, empty_shop, gamma, id, later,
    measured_pour, millilitres, normal, poisson, product, receipt, sheet_row, uniform,
};

pub const SIZE_FACTORS: [f64; 4] = [0.8, 1.0, 1.25, 1.5];
pub const CONDITION_FACTORS: [f64; 5] = [0.7, 0.85, 1.0, 1.25, 1.6];
const PRODUCTS: usize = 6;
const TYPE_CHANCES: [f64; 5] = [0.32, 0.26, 0.2, 0.13, 0.09];
const SIZE_CHANCES: [f64; 4] = [0.2, 0.45, 0.25, 0.1];
const CONDITION_CHANCES: [f64; 5] = [0.1, 0.25, 0.35, 0.2, 0.1];
const VISITS_A_DAY: f64 = 1.2;
const WEEKS: i64 = 52;
const WEEKS_BETWEEN_COUNTS: i64 = 3;
const COUNT_SD: f64 = 0.03;
/// Jobs that what the sheet says of the share of jobs is worth.
const SHARE_WORTH: f64 = 5.0;

/// What a shop writes down beside its jobs and receipts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Habit {
    AllMeasured,
    CountsEveryThreeWeeks,
    OpeningsOnly,
}

pub const HABITS: [Habit; 3] =
    [Habit::AllMeasured, Habit::CountsEveryThreeWeeks, Habit::OpeningsOnly];

/// One job type's true use of one product.
#[derive(Debug, Clone)]
pub struct Pair {
    pub product: usize,
    pub job_type: usize,
    pub sheet: f64,
    pub said_share: f64,
    pub share: f64,
    /// Logarithm of the true mean of jobs that use it, over the sheet's.
    pub off: f64,
}

#[derive(Debug, Clone)]
struct Thirst {
    container: f64,
    size_exponent: f64,
    condition_exponent: f64,
    cv: f64,
}

struct Visit {
    day: NaiveDate,
    place_in_day: u32,
    job_types: Vec<usize>,
    size: usize,
    condition: usize,
}

/// The truth, and the facts by habit.
pub struct UsageShop {
    pub pairs: Vec<Pair>,
    thirsts: Vec<Thirst>,
    visits: Vec<Visit>,
    pub first_day: NaiveDate,
    facts: HashMap<Habit, Facts>,
}

pub fn product_name(place: usize) -> String {
    format!("product-{place}")
}

pub fn type_name(place: usize) -> String {
    format!("type-{place}")
}

impl UsageShop {
    pub fn simulate(seed: u64) -> Self {
        let mut random = super::random(seed);
        let (pairs, thirsts) = draw_truth(&mut random);
        let first_day = NaiveDate::from_ymd_opt(2024, 3, 4).unwrap();
        let visits = draw_visits(&mut random, first_day);
        let mut shop = Self { pairs, thirsts, visits, first_day, facts: HashMap::new() };
        shop.live(&mut random);
        shop
    }

    pub fn facts(&self, habit: Habit) -> &Facts {
        &self.facts[&habit]
    }

    /// Early in the morning, so many weeks after the first day.
    pub fn moment(&self, weeks: i64) -> DateTime<Utc> {
        at(&self.facts[&Habit::AllMeasured], later(self.first_day, 7 * weeks), 7.0)
    }

    /// True mean of a pair at a size and condition, jobs that take none included.
    pub fn true_mean(&self, pair: &Pair, size: usize, condition: usize) -> f64 {
        pair.share * self.true_used_mean(pair, size, condition)
    }

    fn true_used_mean(&self, pair: &Pair, size: usize, condition: usize) -> f64 {
        let own = &self.thirsts[pair.product];
        let size = SIZE_FACTORS[size].powf(own.size_exponent);
        let condition = CONDITION_FACTORS[condition].powf(own.condition_exponent);
        pair.sheet * size * condition * pair.off.exp()
    }

    /// Each unit of work until so many weeks: place of the pair, size, condition.
    pub fn units_until(&self, weeks: i64) -> Vec<(usize, usize, usize)> {
        let end = later(self.first_day, 7 * weeks);
        let mut units = Vec::new();
        for visit in self.visits.iter().filter(|visit| visit.day < end) {
            for (place, pair) in self.pairs.iter().enumerate() {
                if visit.job_types.contains(&pair.job_type) {
                    units.push((place, visit.size, visit.condition));
                }
            }
        }
        units
    }

    fn bare_facts(&self) -> Facts {
        let mut facts = empty_shop();
        for (place, thirst) in self.thirsts.iter().enumerate() {
            facts.products.push(product(&product_name(place), thirst.container));
        }
        for place in 0..TYPE_CHANCES.len() {
            let name = type_name(place);
            let own =
                JobType { id: id(&name), name, price: None, stall_cost: None, comes_back: None };
            facts.job_types.push(own);
        }
        for pair in &self.pairs {
            let (job_type, product) = (type_name(pair.job_type), product_name(pair.product));
            facts.usage_sheet.push(sheet_row(&job_type, &product, pair.sheet, pair.said_share));
        }
        facts
    }

    /// Does the work day by day on a real shelf, and writes it down in each habit's way.
    fn live(&mut self, random: &mut Random) {
        let bare = self.bare_facts();
        let mut books = Books { by_habit: HABITS.map(|habit| (habit, bare.clone())).into() };
        let sizes = self.thirsts.iter().map(|thirst| thirst.container);
        let mut shelf: Vec<Bottle> = sizes.map(Bottle::new).collect();
        let mut number = 0;
        for ahead in 0..7 * WEEKS {
            let day = later(self.first_day, ahead);
            for (place, bottle) in shelf.iter_mut().enumerate() {
                if bottle.sealed < 2 {
                    bottle.sealed += 2;
                    books.receipt(at(&bare, day, 8.0), &id(&product_name(place)), 2);
                }
            }
            for visit in self.visits.iter().filter(|visit| visit.day == day) {
                self.work(random, &mut books, &mut shelf, visit, number);
                number += 1;
            }
            if (ahead + 1) % (7 * WEEKS_BETWEEN_COUNTS) == 0 {
                books.count(random, at(&bare, day, 23.0), &shelf);
            }
        }
        self.facts = books.by_habit;
    }

    fn work(
        &self,
        random: &mut Random,
        books: &mut Books,
        shelf: &mut [Bottle],
        visit: &Visit,
        number: usize,
    ) {
        let facts = &books.by_habit[&Habit::AllMeasured];
        let start = 8.5 + 1.5 * f64::from(visit.place_in_day);
        let mut job = done(facts, booked(facts, number, visit.day, 3), start, start + 1.25);
        job.job_types = visit.job_types.iter().map(|t| id(&type_name(*t))).collect();
        job.size = VehicleSize::ALL[visit.size];
        job.condition = Condition::all().nth(visit.condition).unwrap();
        let mut used = [None; PRODUCTS];
        for pair in self.pairs.iter().filter(|pair| visit.job_types.contains(&pair.job_type)) {
            let sum = used[pair.product].get_or_insert(0.0);
            if uniform(random) < pair.share {
                let mean = self.true_used_mean(pair, visit.size, visit.condition);
                *sum += gamma(random, mean, self.thirsts[pair.product].cv);
            }
        }
        let (end, middle) = (job.finished_at.unwrap(), at(facts, visit.day, start + 0.6));
        for facts in books.by_habit.values_mut() {
            facts.jobs.push(job.clone());
        }
        for (place, quantity) in used.iter().enumerate() {
            let Some(quantity) = quantity else { continue };
            let product = id(&product_name(place));
            let own = books.by_habit.get_mut(&Habit::AllMeasured).unwrap();
            measured_pour(own, end, &job.id, &product, *quantity);
            let (opened, short) = shelf[place].take(*quantity);
            if short > 0 {
                books.receipt(at(&books.by_habit[&HABITS[0]], visit.day, 8.1), &product, short);
            }
            books.openings(middle, &product, opened);
        }
    }
}

/// One product's bottles as they really are.
struct Bottle {
    size: f64,
    left: f64,
    sealed: u32,
}

impl Bottle {
    const fn new(size: f64) -> Self {
        Self { size, left: 0.0, sealed: 0 }
    }

    /// Bottles opened, and how many of them had to be fetched.
    fn take(&mut self, quantity: f64) -> (u32, u32) {
        let (mut opened, mut fetched, mut missing) = (0, 0, quantity);
        while missing > self.left {
            missing -= self.left;
            if self.sealed == 0 {
                self.sealed = 1;
                fetched += 1;
            }
            (self.sealed, self.left, opened) = (self.sealed - 1, self.size, opened + 1);
        }
        self.left -= missing;
        (opened, fetched)
    }
}

struct Books {
    by_habit: HashMap<Habit, Facts>,
}

impl Books {
    fn receipt(&mut self, when: DateTime<Utc>, product: &Id, containers: u32) {
        for facts in self.by_habit.values_mut() {
            receipt(facts, when, product, containers);
        }
    }

    fn openings(&mut self, when: DateTime<Utc>, product: &Id, opened: u32) {
        let facts = self.by_habit.get_mut(&Habit::OpeningsOnly).unwrap();
        for _ in 0..opened {
            let name = id(&format!("o{}", facts.openings.len()));
            let product = product.clone();
            facts.openings.push(Opening { id: name, at: when, product, container: None });
        }
    }

    fn count(&mut self, random: &mut Random, when: DateTime<Utc>, shelf: &[Bottle]) {
        let facts = self.by_habit.get_mut(&Habit::CountsEveryThreeWeeks).unwrap();
        for (place, bottle) in shelf.iter().enumerate() {
            let there = bottle.left + bottle.size * f64::from(bottle.sealed);
            let seen = there * (1.0 + normal(random, 0.0, COUNT_SD));
            facts.counts.push(Count {
                id: id(&format!("c{}", facts.counts.len())),
                at: when,
                product: id(&product_name(place)),
                amount: Some(millilitres(seen)),
                gross_g: None,
                container: None,
                sealed: None,
                sd_share: Some(decimal(COUNT_SD)),
            });
        }
    }
}

/// As an owner with a sheet that is right within a factor of 1.65 (log sd 0.5) has it: a quarter
/// of that is the product's own, the rest the pair's.
fn draw_truth(random: &mut Random) -> (Vec<Pair>, Vec<Thirst>) {
    let shop_wide = [0.2, 0.3, 0.3].map(|sd| normal(random, 0.0, sd));
    let (mut pairs, mut thirsts) = (Vec::new(), Vec::new());
    for product in 0..PRODUCTS {
        let common = normal(random, shop_wide[0], 0.25);
        let usual = between(random, 15.0, 120.0);
        thirsts.push(Thirst {
            container: usual * between(random, 6.0, 20.0),
            size_exponent: 1.0 + normal(random, shop_wide[1], 0.25),
            condition_exponent: 1.0 + normal(random, shop_wide[2], 0.25),
            cv: between(random, 0.25, 0.5),
        });
        for job_type in (0..TYPE_CHANCES.len()).filter(|t| (t + product) % 5 < 3) {
            let always = uniform(random) < 0.6;
            let said_share = if always { 1.0 } else { between(random, 0.3, 0.9) };
            pairs.push(Pair {
                product,
                job_type,
                sheet: usual * between(random, 0.6, 1.6),
                said_share,
                share: if always { 1.0 } else { draw_share(random, said_share) },
                off: common + normal(random, 0.0, (0.25_f64 - 0.0625).sqrt()),
            });
        }
    }
    (pairs, thirsts)
}

/// A share about what was said, known as well as from a few jobs (Beta).
fn draw_share(random: &mut Random, said: f64) -> f64 {
    let part = |random: &mut Random, worth: f64| gamma(random, worth, worth.sqrt().recip());
    let (yes, no) = (part(random, SHARE_WORTH * said), part(random, SHARE_WORTH * (1.0 - said)));
    (yes / (yes + no)).clamp(0.02, 1.0)
}

fn draw_visits(random: &mut Random, first_day: NaiveDate) -> Vec<Visit> {
    let mut visits = Vec::new();
    for day in (0..7 * WEEKS).map(|ahead| later(first_day, ahead)) {
        if day.weekday() == Weekday::Sun {
            continue;
        }
        for place_in_day in 0..poisson(random, VISITS_A_DAY).min(9) {
            let mut job_types = vec![choose(random, &TYPE_CHANCES)];
            let other = choose(random, &TYPE_CHANCES);
            if uniform(random) < 0.25 && other != job_types[0] {
                job_types.push(other);
            }
            let size = choose(random, &SIZE_CHANCES);
            let condition = choose(random, &CONDITION_CHANCES);
            visits.push(Visit { day, place_in_day, job_types, size, condition });
        }
    }
    visits
}
