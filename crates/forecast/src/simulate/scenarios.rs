//! Futures: what jobs may take of each product, day by day.
//!
//! Each future draws the effects from what is not yet known of them, then the calendar, then each
//! job's usage. The same futures serve every product and every alternative (common random
//! numbers; Glasserman & Yao 1992), so that differences between alternatives are smooth.

use capful_domain::{Job, JobStatus, Ledger, Snapshot};
use chrono::{Datelike, Timelike};
use rand_distr::{Distribution, Gamma, StandardNormal, StandardUniform};
use rayon::prelude::*;

use crate::learn::arrivals::{Arrivals, stall_cost};
use crate::learn::booked_job::BookedJob;
use crate::learn::index::{Index, UnitOfWork};
use crate::learn::overbooked::{LeftOut, MOST_OTHER_TAKINGS, within_reach};
use crate::learn::random::{Purpose, Stream, number_of, stream};
use crate::learn::usage::{ProductUsage, UsageModel};

/// A job that is not a booked one.
pub(crate) const NOT_BOOKED: u32 = u32::MAX;

/// What one job takes of one product in one future.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Draw {
    /// Days ahead.
    pub day: i32,
    /// Place of the booked job, or [`NOT_BOOKED`].
    pub booked: u32,
    /// The pair, for its ratio.
    pub pair: u32,
    /// How much, in base units.
    pub quantity: f64,
    /// What it costs if the job stalls.
    pub stall_cost: f64,
}

/// Days after its day that a booked job is still believed.
pub(crate) const BELIEVED_LATE_DAYS: i64 = 7;

/// The takings of one product: all futures in a row, each in the order of time.
#[derive(Debug, Clone, Default)]
pub(crate) struct ProductScenarios {
    draws: Vec<Draw>,
    ends: Vec<u32>,
}

impl ProductScenarios {
    /// Adds a product's takings of the next futures.
    fn gather(&mut self, drawn: &[Scenario], product: usize) {
        for future in drawn {
            let own = future.starts[product]..future.starts[product + 1];
            self.draws.extend_from_slice(&future.draws[own]);
            self.ends.push(u32::try_from(self.draws.len()).unwrap_or(u32::MAX));
        }
    }

    /// One future's takings.
    pub fn of(&self, future: usize) -> &[Draw] {
        let start = if future == 0 { 0 } else { self.ends[future - 1] as usize };
        &self.draws[start..self.ends[future] as usize]
    }

    /// For each future what is taken before day `end(future)`.
    pub fn totals(&self, end: impl Fn(usize) -> i32) -> Vec<f64> {
        let total = |future: usize| {
            let before = self.of(future).iter().take_while(|t| t.day < end(future));
            before.map(|t| t.quantity).sum()
        };
        (0..self.ends.len()).map(total).collect()
    }

    /// The same, of booked jobs only and of the others only: means over futures.
    pub fn mean_parts(&self, end: impl Fn(usize) -> i32) -> (f64, f64) {
        let (mut booked, mut others) = (0.0, 0.0);
        for future in 0..self.ends.len() {
            for draw in self.of(future).iter().take_while(|t| t.day < end(future)) {
                if draw.booked == NOT_BOOKED {
                    others += draw.quantity;
                } else {
                    booked += draw.quantity;
                }
            }
        }
        let futures = self.ends.len().max(1) as f64;
        (booked / futures, others / futures)
    }
}

/// All futures.
#[derive(Debug)]
pub(crate) struct Scenarios {
    pub count: usize,
    /// Days drawn.
    pub days: i32,
    pub products: Vec<ProductScenarios>,
    pub booked: Vec<BookedJob>,
    /// For each booked job the futures in which it is not cancelled.
    pub kept: Vec<Vec<bool>>,
    /// What of the calendar is not looked at.
    pub left_out: LeftOut,
}

/// Everything that futures are drawn from.
pub(crate) struct ModelInputs<'a> {
    pub snapshot: &'a Snapshot,
    pub index: &'a Index,
    pub usage: &'a UsageModel,
    /// Of each product whether the shop writes down when a container is opened.
    pub tells_openings: &'a [bool],
    pub ledger: &'a Ledger,
    pub arrivals: &'a Arrivals,
    pub seed: u64,
}

impl Scenarios {
    /// Draws `count` futures of `days` days.
    pub fn draw(
        inputs: &ModelInputs<'_>,
        effects: &[DrawnEffects],
        count: usize,
        days: i32,
    ) -> Self {
        let (booked, left_out) = within_reach(booked_jobs(inputs));
        let spreads: Vec<_> = inputs.usage.products.iter().map(spread).collect();
        let products = vec![ProductScenarios::default(); inputs.index.products.len()];
        let kept = vec![Vec::with_capacity(count); booked.len()];
        let mut futures = Self { count, days, products, booked, kept, left_out };
        // Block by block, so that what is drawn does not stand beside what is gathered of it.
        for start in (0..count).step_by(BLOCK) {
            let drawn: Vec<Scenario> = (start..count.min(start + BLOCK))
                .into_par_iter()
                .map(|future| {
                    one_future(inputs, &futures.booked, effects, &spreads, (future, days))
                })
                .collect();
            futures.gather(&drawn);
        }
        futures
    }

    /// Adds what was drawn of the next futures.
    fn gather(&mut self, drawn: &[Scenario]) {
        let products = self.products.par_iter_mut().enumerate();
        products.for_each(|(product, own)| own.gather(drawn, product));
        for (job, kept) in self.kept.iter_mut().enumerate() {
            kept.extend(drawn.iter().map(|future| future.kept[job]));
        }
        let cut = drawn.iter().filter_map(|future| future.not_booked_from);
        self.left_out.not_booked_from = self.left_out.not_booked_from.into_iter().chain(cut).min();
    }
}

/// Jobs that are booked or under way, by their day.
fn booked_jobs(inputs: &ModelInputs<'_>) -> Vec<BookedJob> {
    let (snapshot, index) = (inputs.snapshot, inputs.index);
    let poured = snapshot.poured_pairs();
    let is_ahead =
        |job: &&(usize, &Job)| matches!(job.1.status, JobStatus::Booked | JobStatus::Started);
    let jobs: Vec<(usize, &Job)> = snapshot.facts.jobs.iter().enumerate().collect();
    let mut booked: Vec<BookedJob> = jobs
        .iter()
        .filter(is_ahead)
        .map(|(place, job)| {
            let ahead = (job.planned_on - snapshot.day).num_days();
            let untouched = |unit: &UnitOfWork| {
                let product = &index.products[index.pairs[unit.pair].product].id;
                !poured.contains(&(&job.id, product))
            };
            BookedJob {
                place: *place,
                id: job.id.clone(),
                day: i32::try_from(ahead.max(0)).unwrap_or(i32::MAX),
                units: index.units_of(job).into_iter().filter(untouched).collect(),
                stall_cost: stall_cost(snapshot, &job.job_types),
                started: job.status == JobStatus::Started,
                late_days: (-ahead).max(0),
            }
        })
        .filter(|job| job.started || job.late_days <= BELIEVED_LATE_DAYS)
        .collect();
    booked.sort_by_key(|job| (job.day, !job.started, job.place));
    booked
}

/// One product's effects `b`, as drawn for each future.
#[derive(Debug)]
pub(crate) struct DrawnEffects {
    count: usize,
    /// One future's behind the other's.
    values: Vec<f64>,
}

impl DrawnEffects {
    /// One future's.
    pub fn of(&self, future: usize) -> &[f64] {
        &self.values[future * self.count..(future + 1) * self.count]
    }

    /// Each future's.
    pub fn each(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.count.max(1))
    }
}

/// Each product's effects.
pub(crate) fn draw_effects(inputs: &ModelInputs<'_>, count: usize) -> Vec<DrawnEffects> {
    let products: Vec<usize> = (0..inputs.index.products.len()).collect();
    products
        .par_iter()
        .map(|product| {
            let usage = &inputs.usage.products[*product];
            let thing = number_of(inputs.index.products[*product].id.as_str());
            let mut z = vec![0.0; usage.b.len()];
            let mut values = Vec::with_capacity(count * z.len());
            for future in 0..count {
                let mut random = stream(inputs.seed, Purpose::UsageEffects, future, thing);
                z.fill_with(|| StandardNormal.sample(&mut random));
                let add = |p: usize| -> f64 {
                    let row = usage.factor.row(p);
                    row.iter().zip(&z[..=p]).map(|(f, z)| f * z).sum()
                };
                values.extend(usage.b.iter().enumerate().map(|(p, b)| b + add(p)));
            }
            DrawnEffects { count: z.len(), values }
        })
        .collect()
}

/// Futures that are drawn before they are gathered by product.
const BLOCK: usize = 64;

struct Scenario {
    /// Takings, product by product, each in the order of time.
    draws: Vec<Draw>,
    /// Where each product's begin, and where the last one's end.
    starts: Vec<usize>,
    kept: Vec<bool>,
    /// The day from which on jobs not booked yet found no room.
    not_booked_from: Option<i32>,
}

fn one_future(
    inputs: &ModelInputs<'_>,
    booked: &[BookedJob],
    effects: &[DrawnEffects],
    spreads: &[Option<Gamma<f64>>],
    (future, days): (usize, i32),
) -> Scenario {
    let mut drawing = Drawing { inputs, effects, spreads, future, draws: Vec::new() };
    let mut kept = Vec::with_capacity(booked.len());
    for (number, job) in booked.iter().enumerate() {
        let thing = number_of(job.id.as_str());
        let mut random = stream(inputs.seed, Purpose::Booked, future, thing);
        let u: f64 = StandardUniform.sample(&mut random);
        let cancels = match (job.started, job.day, job.late_days) {
            (true, ..) => 0.0,
            (_, _, late) if late > 0 => 0.5,
            (_, 0, _) => inputs.arrivals.cancel_share / 2.0,
            _ => inputs.arrivals.cancel_share,
        };
        kept.push(u >= cancels);
        if u >= cancels && job.day < days {
            let number = u32::try_from(number).unwrap_or(NOT_BOOKED);
            drawing.job(&job.units, job.day, number, job.stall_cost, &mut random);
        }
    }
    let left = today_left(inputs.snapshot);
    let visits = inputs.arrivals.draw(inputs.snapshot, inputs.seed, future, days, left);
    let room = drawing.draws.len() + MOST_OTHER_TAKINGS;
    let mut not_booked_from = None;
    for (ahead, number, template) in visits {
        if drawing.draws.len() >= room {
            not_booked_from = Some(ahead);
            break;
        }
        let date = i64::from(inputs.snapshot.day.num_days_from_ce()) + i64::from(ahead);
        let thing = date.unsigned_abs().wrapping_mul(1_000_003) ^ number;
        let mut random = stream(inputs.seed, Purpose::NotBooked, future, thing);
        drawing.job(&template.units, ahead, NOT_BOOKED, template.stall_cost, &mut random);
    }
    let (draws, starts) = by_product(&drawing.draws, inputs.index.products.len());
    Scenario { draws, starts, kept, not_booked_from }
}

/// Takings laid out product by product, each in the order of time, and where each product's begin.
fn by_product(drawn: &[(u32, Draw)], products: usize) -> (Vec<Draw>, Vec<usize>) {
    let mut starts = vec![0; products + 1];
    for (product, _) in drawn {
        starts[*product as usize + 1] += 1;
    }
    for product in 0..products {
        starts[product + 1] += starts[product];
    }
    let mut next = starts.clone();
    let mut draws = vec![Draw::default(); drawn.len()];
    for (product, draw) in drawn {
        let place = &mut next[*product as usize];
        draws[*place] = *draw;
        *place += 1;
    }
    for own in starts.windows(2) {
        draws[own[0]..own[1]].sort_by_key(|draw| draw.day);
    }
    (draws, starts)
}

/// Share of today's working hours (8 to 18) that is still to come.
pub(crate) fn today_left(snapshot: &Snapshot) -> f64 {
    let now = snapshot.moment.with_timezone(&snapshot.facts.shop.timezone).time();
    let hour = f64::from(now.num_seconds_from_midnight()) / 3600.0;
    ((18.0 - hour) / 10.0).clamp(0.0, 1.0)
}

/// How what a job takes of a product is spread about its mean.
fn spread(usage: &ProductUsage) -> Option<Gamma<f64>> {
    let shape = 1.0 / usage.dispersion.max(1e-6);
    Gamma::new(shape, 1.0 / shape).ok()
}

struct Drawing<'a> {
    inputs: &'a ModelInputs<'a>,
    effects: &'a [DrawnEffects],
    spreads: &'a [Option<Gamma<f64>>],
    future: usize,
    draws: Vec<(u32, Draw)>,
}

impl Drawing<'_> {
    /// Draws what one job takes of each product.
    fn job(
        &mut self,
        units: &[UnitOfWork],
        day: i32,
        booked: u32,
        stall_cost: f64,
        random: &mut Stream,
    ) {
        let (index, usage) = (self.inputs.index, self.inputs.usage);
        for unit in units {
            let product = index.pairs[unit.pair].product;
            let b = self.effects[product].of(self.future);
            let share = usage.share_with(index, unit, b);
            let u: f64 = StandardUniform.sample(random);
            let spread = self.spreads[product].map_or(1.0, |gamma| gamma.sample(random));
            if u >= share {
                continue;
            }
            let quantity = usage.used_mean(unit, b) * spread;
            let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
            let draw = Draw { day, booked, pair: small(unit.pair), quantity, stall_cost };
            self.draws.push((small(product), draw));
        }
    }
}
