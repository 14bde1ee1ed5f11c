//! Readiness: the chance that the shelf carries a booked job from start to finish, and what to put
//! on the bench for it.

use std::collections::BTreeMap;

use capful_domain::Container;
use rayon::prelude::*;

use crate::decide::product_result::ProductResult;
use crate::decide::projection::Shortage;
use crate::decide::shortage::{parts_of, split};
use crate::learn::booked_job::BookedJob;
use crate::learn::index::base;
use crate::plan::{JobReadiness, SetOut, ShortOf, ShortParts};
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::stock::Stock;
use crate::statistics::{quantile_of, rounded};

/// A product that a job lacks less often is not named.
const NAMED: f64 = 0.005;

/// Readiness of every booked job, by its day.
pub(crate) fn readiness(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    results: &[ProductResult],
) -> Vec<JobReadiness> {
    let mut shortages: Vec<Vec<Shortage>> = vec![Vec::new(); stock.futures.booked.len()];
    for shortage in results.iter().flat_map(|own| &own.projection.shortages) {
        shortages[shortage.booked].push(*shortage);
    }
    let shorts: Vec<Vec<Short>> = shortages
        .par_iter()
        .enumerate()
        .map(|(place, own)| shorts(inputs, stock, place, own))
        .collect();
    let booked = stock.futures.booked.par_iter().enumerate();
    let chances: Vec<(f64, BTreeMap<usize, u32>)> = booked
        .map(|(place, job)| {
            let ready = ready_chance(stock, place, job, &shortages[place]);
            (ready, split(&shortages[place], (10_000.0 * (1.0 - ready)).round() as u32))
        })
        .collect();
    let mut parts = parts(inputs, stock, &shorts);
    let mut bench = Bench::new(stock);
    let jobs = stock.futures.booked.iter().enumerate().zip(takes(inputs, stock));
    jobs.zip(chances)
        .map(|(((place, job), takes), (ready, mut split))| {
            let own = shorts[place].iter().filter_map(|short| {
                let not_ready = split.remove(&short.product).unwrap_or(0);
                let parts = parts.remove(&(place, short.product))?;
                Some(short_of(inputs, stock, short, f64::from(not_ready) / 1e4, parts))
            });
            JobReadiness {
                job: job.id.to_string(),
                planned_on: inputs.snapshot.facts.jobs[job.place].planned_on,
                ready_chance: ready,
                short_of: own.collect(),
                not_ready_others: f64::from(split.into_values().sum::<u32>()) / 1e4,
                set_out: bench.set_out(inputs, stock, job.day, &takes),
            }
        })
        .collect()
}

/// Futures in which the job comes; all, where it never does.
fn kept(stock: &Stock, place: usize) -> usize {
    let kept = stock.futures.kept[place].iter().filter(|kept| **kept).count();
    if kept == 0 { stock.futures.count } else { kept }
}

fn ready_chance(stock: &Stock, place: usize, job: &BookedJob, shortages: &[Shortage]) -> f64 {
    if job.day >= stock.futures.days {
        return 1.0;
    }
    let mut stalled: Vec<usize> = shortages
        .iter()
        .filter(|shortage| !shortage.covered)
        .map(|shortage| shortage.future)
        .collect();
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
fn shorts(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    place: usize,
    shortages: &[Shortage],
) -> Vec<Short> {
    let mut by_product: BTreeMap<usize, Vec<Shortage>> = BTreeMap::new();
    for shortage in shortages {
        let own = by_product.entry(shortage.product).or_default();
        match own.last_mut() {
            // A job of several types may lack the same product for each of them.
            Some(last) if last.future == shortage.future => {
                last.missing += shortage.missing;
                last.covered &= shortage.covered;
            }
            _ => own.push(*shortage),
        }
    }
    let short = |(product, shortages): (usize, Vec<Shortage>)| Short {
        product,
        chance: shortages.len() as f64 / kept(stock, place) as f64,
        missing: shortages.iter().map(|l| l.missing).sum::<f64>() / shortages.len() as f64,
        covered: shortages.iter().filter(|l| l.covered).count() * 2 > shortages.len(),
    };
    let mut shorts: Vec<Short> = by_product.into_iter().map(short).collect();
    shorts.retain(|short| short.chance >= NAMED);
    let name = |short: &Short| &inputs.index.products[short.product].id;
    shorts.sort_by(|a, b| b.chance.total_cmp(&a.chance).then_with(|| name(a).cmp(name(b))));
    shorts
}

/// What each of them is made of, by job and product.
fn parts(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
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
        jobs_of.par_iter().map(|(product, jobs)| parts_of(inputs, stock, *product, jobs)).collect();
    let named = jobs_of.iter().zip(parts).flat_map(|((product, jobs), parts)| {
        jobs.iter().zip(parts).map(move |(job, parts)| ((*job, *product), parts))
    });
    named.collect()
}

fn short_of(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    short: &Short,
    not_ready: f64,
    parts: ShortParts,
) -> ShortOf {
    let product = short.product;
    ShortOf {
        product: inputs.index.products[product].id.to_string(),
        chance: rounded(short.chance, 4),
        missing: stock.amount(inputs.index, product, short.missing),
        substitute: short.covered.then(|| substitute(inputs, stock, product)).flatten(),
        not_ready,
        parts,
    }
}

/// The best substitute that is on the shelf.
fn substitute(inputs: &ModelInputs<'_>, stock: &Stock, product: usize) -> Option<String> {
    let own = &inputs.index.products[product];
    let there = own.substitutes.iter().find(|p| stock.shelves[**p].on_hand > 0.0);
    there.map(|p| inputs.index.products[*p].id.to_string())
}

/// What a booked job takes of one product at one ratio: on average, and at most but for one time in
/// ten.
struct Takes {
    product: usize,
    ratio: capful_domain::Ratio,
    mean: f64,
    up_to: f64,
}

/// What each booked job takes, by product and ratio.
fn takes(inputs: &ModelInputs<'_>, stock: &Stock) -> Vec<Vec<Takes>> {
    let mut asked: Vec<Vec<Asked>> = (0..inputs.index.products.len()).map(|_| Vec::new()).collect();
    for (job, booked) in stock.futures.booked.iter().enumerate() {
        for unit in &booked.units {
            let pair = &inputs.index.pairs[unit.pair];
            let mean = inputs.usage.mean(inputs.index, unit);
            let own = &mut asked[pair.product];
            match own.iter_mut().find(|one| one.job == job && one.ratio == pair.ratio) {
                Some(one) => one.mean += mean,
                None => own.push(Asked { job, ratio: pair.ratio, mean }),
            }
        }
    }
    let by_product: Vec<Vec<Takes>> =
        asked.par_iter().enumerate().map(|(p, asked)| takes_of(inputs, stock, p, asked)).collect();
    let mut by_job: Vec<Vec<Takes>> = stock.futures.booked.iter().map(|_| Vec::new()).collect();
    for (takes, asked) in by_product.into_iter().zip(&asked) {
        for (takes, asked) in takes.into_iter().zip(asked) {
            by_job[asked.job].push(takes);
        }
    }
    for own in &mut by_job {
        own.sort_by_key(|takes| (takes.product, takes.ratio));
    }
    by_job
}

/// A booked job's use of a product at one ratio, and what it takes on average.
struct Asked {
    job: usize,
    ratio: capful_domain::Ratio,
    mean: f64,
}

fn takes_of(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    asked: &[Asked],
) -> Vec<Takes> {
    let mut first_of = vec![asked.len(); stock.futures.booked.len()];
    for (place, one) in asked.iter().enumerate().rev() {
        first_of[one.job] = place;
    }
    let mut drawn: Vec<Vec<f64>> = vec![Vec::new(); asked.len()];
    for future in 0..stock.futures.count {
        for (drawn, one) in drawn.iter_mut().zip(asked) {
            if stock.futures.kept[one.job][future] {
                drawn.push(0.0);
            }
        }
        for draw in stock.futures.products[product].of(future) {
            // Of a job that has not this product on its sheet any more nothing is set out.
            let Some(first) = first_of.get(draw.booked as usize) else { continue };
            let ratio = inputs.index.pairs[draw.pair as usize].ratio;
            let own = asked[*first..].iter().take_while(|one| one.job == draw.booked as usize);
            let place = own.zip(*first..).find(|(one, _)| one.ratio == ratio);
            if let Some(sum) = place.and_then(|(_, place)| drawn[place].last_mut()) {
                *sum += draw.quantity;
            }
        }
    }
    let takes = asked.iter().zip(drawn).map(|(one, drawn)| Takes {
        product,
        ratio: one.ratio,
        mean: one.mean,
        up_to: quantile_of(&drawn, 0.9).max(one.mean),
    });
    takes.collect()
}

/// What stands in the containers once the jobs before have taken what they take on average.
struct Bench {
    left: Vec<Vec<f64>>,
}

impl Bench {
    fn new(stock: &Stock) -> Self {
        let left = |shelf: &crate::simulate::shelf::ProductShelf| {
            shelf.containers.iter().map(|c| base(c.left)).collect()
        };
        Self { left: stock.shelves.iter().map(left).collect() }
    }

    /// Lays what a job takes over the containers in the order they are poured.
    fn set_out(
        &mut self,
        inputs: &ModelInputs<'_>,
        stock: &Stock,
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
                let water = if ratio.is_neat() {
                    None
                } else {
                    Some(crate::learn::index::float(ratio.water()))
                };
                rows.push(SetOut {
                    product: inputs.index.products[*product].id.to_string(),
                    container: container.id.to_string(),
                    expect: stock.amount(inputs.index, *product, expect),
                    up_to: stock.amount(inputs.index, *product, most),
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
