//! Readiness: the chance that the shelf carries a booked job from start to finish, and what to put
//! on the bench for it.

use std::collections::BTreeMap;

use capful_domain::Container;
use rayon::prelude::*;

use crate::futures::{BookedJob, Known};
use crate::index::{UnitOfWork, base};
use crate::lack::{parts_of, split};
use crate::plan::{JobReadiness, SetOut, ShortOf, ShortParts};
use crate::prospect::{Lack, Prospect};
use crate::stock::{Stock, quantile_of, rounded};

/// A product that a job lacks less often is not named.
const NAMED: f64 = 0.005;

/// Readiness of every booked job, by its day.
pub(crate) fn readiness(
    known: &Known<'_>,
    stock: &Stock<'_>,
    prospects: &[Prospect],
) -> Vec<JobReadiness> {
    let mut lacks: Vec<Vec<Lack>> = vec![Vec::new(); stock.futures.booked.len()];
    for lack in prospects.iter().flat_map(|p| &p.lacks) {
        lacks[lack.booked].push(*lack);
    }
    let shorts: Vec<Vec<Short>> =
        lacks.iter().enumerate().map(|(place, own)| shorts(known, stock, place, own)).collect();
    let mut parts = parts(known, stock, &shorts);
    let mut bench = Bench::new(stock);
    let jobs: Vec<(usize, &BookedJob)> = stock.futures.booked.iter().enumerate().collect();
    let takes: Vec<Vec<Takes>> =
        jobs.par_iter().map(|(place, job)| takes(known, stock, *place, job)).collect();
    jobs.into_iter()
        .zip(takes)
        .map(|((place, job), takes)| {
            let ready = ready_chance(stock, place, job, &lacks[place]);
            let mut split = split(&lacks[place], (10_000.0 * (1.0 - ready)).round() as u32);
            let own = shorts[place].iter().filter_map(|short| {
                let not_ready = split.remove(&short.product).unwrap_or(0);
                let parts = parts.remove(&(place, short.product))?;
                Some(short_of(known, stock, short, f64::from(not_ready) / 1e4, parts))
            });
            JobReadiness {
                job: job.id.to_string(),
                planned_on: known.snapshot.facts.jobs[job.place].planned_on,
                ready_chance: ready,
                short_of: own.collect(),
                not_ready_others: f64::from(split.into_values().sum::<u32>()) / 1e4,
                set_out: bench.set_out(known, stock, job.day, &takes),
            }
        })
        .collect()
}

/// Futures in which the job comes; all, where it never does.
fn kept(stock: &Stock<'_>, place: usize) -> usize {
    let kept = stock.futures.kept[place].iter().filter(|kept| **kept).count();
    if kept == 0 { stock.futures.count } else { kept }
}

fn ready_chance(stock: &Stock<'_>, place: usize, job: &BookedJob, lacks: &[Lack]) -> f64 {
    if job.day >= stock.futures.days {
        return 1.0;
    }
    let mut stalled: Vec<usize> =
        lacks.iter().filter(|lack| !lack.covered).map(|lack| lack.future).collect();
    stalled.sort_unstable();
    stalled.dedup();
    rounded(1.0 - stalled.len() as f64 / kept(stock, place) as f64, 4)
}

/// What a job may lack of one product.
struct Short {
    product: usize,
    chance: f64,
    missing: f64,
    covered: bool,
}

/// What a job may lack, the likeliest first.
fn shorts(known: &Known<'_>, stock: &Stock<'_>, place: usize, lacks: &[Lack]) -> Vec<Short> {
    let mut by_product: BTreeMap<usize, Vec<Lack>> = BTreeMap::new();
    for lack in lacks {
        let own = by_product.entry(lack.product).or_default();
        match own.last_mut() {
            // A job of several types may lack the same product for each of them.
            Some(last) if last.future == lack.future => {
                last.missing += lack.missing;
                last.covered &= lack.covered;
            }
            _ => own.push(*lack),
        }
    }
    let short = |(product, lacks): (usize, Vec<Lack>)| Short {
        product,
        chance: lacks.len() as f64 / kept(stock, place) as f64,
        missing: lacks.iter().map(|l| l.missing).sum::<f64>() / lacks.len() as f64,
        covered: lacks.iter().filter(|l| l.covered).count() * 2 > lacks.len(),
    };
    let mut shorts: Vec<Short> = by_product.into_iter().map(short).collect();
    shorts.retain(|short| short.chance >= NAMED);
    let name = |short: &Short| &known.index.products[short.product].id;
    shorts.sort_by(|a, b| b.chance.total_cmp(&a.chance).then_with(|| name(a).cmp(name(b))));
    shorts
}

/// What each of them is made of, by job and product.
fn parts(
    known: &Known<'_>,
    stock: &Stock<'_>,
    shorts: &[Vec<Short>],
) -> BTreeMap<(usize, usize), ShortParts> {
    let mut jobs_of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, shorts) in shorts.iter().enumerate() {
        for short in shorts {
            jobs_of.entry(short.product).or_default().push(place);
        }
    }
    let jobs_of: Vec<(usize, Vec<usize>)> = jobs_of.into_iter().collect();
    let parts: Vec<Vec<ShortParts>> =
        jobs_of.par_iter().map(|(product, jobs)| parts_of(known, stock, *product, jobs)).collect();
    let named = jobs_of.iter().zip(parts).flat_map(|((product, jobs), parts)| {
        jobs.iter().zip(parts).map(move |(job, parts)| ((*job, *product), parts))
    });
    named.collect()
}

fn short_of(
    known: &Known<'_>,
    stock: &Stock<'_>,
    short: &Short,
    not_ready: f64,
    parts: ShortParts,
) -> ShortOf {
    let product = short.product;
    ShortOf {
        product: known.index.products[product].id.to_string(),
        chance: rounded(short.chance, 4),
        missing: stock.amount(known.index, product, short.missing),
        substitute: short.covered.then(|| substitute(known, stock, product)).flatten(),
        not_ready,
        parts,
    }
}

/// The best substitute that is on the shelf.
fn substitute(known: &Known<'_>, stock: &Stock<'_>, product: usize) -> Option<String> {
    let own = &known.index.products[product];
    let there = own.substitutes.iter().find(|p| stock.shelves[**p].on_hand > 0.0);
    there.map(|p| known.index.products[*p].id.to_string())
}

/// What a booked job takes of one product at one ratio: on average, and at most but for one time in
/// ten.
struct Takes {
    product: usize,
    ratio: capful_domain::Ratio,
    mean: f64,
    up_to: f64,
}

fn takes(known: &Known<'_>, stock: &Stock<'_>, place: usize, job: &BookedJob) -> Vec<Takes> {
    let mut by_pair: BTreeMap<(usize, capful_domain::Ratio), Vec<UnitOfWork>> = BTreeMap::new();
    for unit in &job.units {
        let pair = &known.index.pairs[unit.pair];
        by_pair.entry((pair.product, pair.ratio)).or_default().push(*unit);
    }
    let own = by_pair.into_iter().map(|((product, ratio), units)| {
        let mean: f64 = units.iter().map(|u| known.usage.mean(known.index, u)).sum();
        let drawn = drawn(stock, product, (place, job.day), &units);
        Takes { product, ratio, mean, up_to: quantile_of(&drawn, 0.9).max(mean) }
    });
    own.collect()
}

/// What stands in the containers once the jobs before have taken what they take on average.
struct Bench {
    left: Vec<Vec<f64>>,
}

impl Bench {
    fn new(stock: &Stock<'_>) -> Self {
        let left = |shelf: &crate::shelf::ProductShelf| {
            shelf.containers.iter().map(|c| base(c.left)).collect()
        };
        Self { left: stock.shelves.iter().map(left).collect() }
    }

    /// Lays what a job takes over the containers in the order they are poured.
    fn set_out(
        &mut self,
        known: &Known<'_>,
        stock: &Stock<'_>,
        day: i32,
        takes: &[Takes],
    ) -> Vec<SetOut> {
        let mut rows = Vec::new();
        for Takes { product, ratio, mean, up_to } in takes {
            let (mut mean, mut up_to) = (*mean, *up_to);
            let shelf = &stock.shelves[*product];
            let serves = |c: &Container, until: i32| c.serves(*ratio) && until >= day;
            for (place, container) in shelf.containers.iter().enumerate() {
                let left = &mut self.left[*product][place];
                if up_to <= 0.0 || *left <= 0.0 || !serves(container, shelf.groups[place].until) {
                    continue;
                }
                let (expect, most) = (mean.min(*left), up_to.min(*left));
                let water =
                    if ratio.is_neat() { None } else { Some(crate::index::float(ratio.water())) };
                rows.push(SetOut {
                    product: known.index.products[*product].id.to_string(),
                    container: container.id.to_string(),
                    expect: stock.amount(known.index, *product, expect),
                    up_to: stock.amount(known.index, *product, most),
                    water,
                });
                *left -= expect;
                mean -= expect;
                up_to -= most;
            }
        }
        rows
    }
}

/// What a booked job takes of a product in each future in which it comes.
fn drawn(
    stock: &Stock<'_>,
    product: usize,
    (place, day): (usize, i32),
    units: &[UnitOfWork],
) -> Vec<f64> {
    let futures = &stock.futures.products[product];
    let own = |pair: u32| units.iter().any(|unit| unit.pair == pair as usize);
    let kept = (0..stock.futures.count).filter(|future| stock.futures.kept[place][*future]);
    kept.map(|future| {
        // Takings stand by day, and on a day by job.
        let takings = futures.of(future);
        let first = takings.partition_point(|t| (t.day, t.booked as usize) < (day, place));
        let job = takings[first..].iter().take_while(|t| t.booked as usize == place);
        job.filter(|t| own(t.pair)).map(|t| t.quantity).sum()
    })
    .collect()
}
