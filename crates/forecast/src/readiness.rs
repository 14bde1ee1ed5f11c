//! Readiness: the chance that the shelf carries a booked job from start to finish, and what to put
//! on the bench for it.

use std::collections::BTreeMap;

use capful_domain::Container;

use crate::futures::{BookedJob, Known};
use crate::index::{UnitOfWork, base};
use crate::plan::{JobReadiness, SetOut, ShortOf};
use crate::prospect::{Lack, Prospect};
use crate::stock::{Stock, quantile_of, rounded};

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
    let mut bench = Bench::new(stock);
    let jobs = stock.futures.booked.iter().enumerate();
    jobs.map(|(place, job)| JobReadiness {
        job: job.id.to_string(),
        planned_on: known.snapshot.facts.jobs[job.place].planned_on,
        ready_chance: ready_chance(stock, place, job, &lacks[place]),
        short_of: short_of(known, stock, place, &lacks[place]),
        set_out: bench.set_out(known, stock, place, job),
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

fn short_of(known: &Known<'_>, stock: &Stock<'_>, place: usize, lacks: &[Lack]) -> Vec<ShortOf> {
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
    let mut rows: Vec<(f64, ShortOf)> = by_product
        .into_iter()
        .map(|(product, lacks)| {
            let chance = lacks.len() as f64 / kept(stock, place) as f64;
            let missing = lacks.iter().map(|l| l.missing).sum::<f64>() / lacks.len() as f64;
            let covered = lacks.iter().filter(|l| l.covered).count() * 2 > lacks.len();
            let substitute = if covered { substitute(known, stock, product) } else { None };
            let row = ShortOf {
                product: known.index.products[product].id.to_string(),
                chance: rounded(chance, 4),
                missing: stock.amount(known.index, product, missing),
                substitute,
            };
            (chance, row)
        })
        .filter(|(chance, _)| *chance >= 0.005)
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.product.cmp(&b.1.product)));
    rows.into_iter().map(|(_, row)| row).collect()
}

/// The best substitute that is on the shelf.
fn substitute(known: &Known<'_>, stock: &Stock<'_>, product: usize) -> Option<String> {
    let own = &known.index.products[product];
    let there = own.substitutes.iter().find(|p| stock.shelves[**p].on_hand > 0.0);
    there.map(|p| known.index.products[*p].id.to_string())
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

    fn set_out(
        &mut self,
        known: &Known<'_>,
        stock: &Stock<'_>,
        place: usize,
        job: &BookedJob,
    ) -> Vec<SetOut> {
        let mut by_pair: BTreeMap<(usize, capful_domain::Ratio), Vec<UnitOfWork>> = BTreeMap::new();
        for unit in &job.units {
            let pair = &known.index.pairs[unit.pair];
            by_pair.entry((pair.product, pair.ratio)).or_default().push(*unit);
        }
        let mut rows = Vec::new();
        for ((product, ratio), units) in by_pair {
            let mean: f64 = units.iter().map(|u| known.usage.mean(known.index, u)).sum();
            let drawn = drawn(stock, product, place, &units);
            let up_to = quantile_of(&drawn, 0.9).max(mean);
            self.place(known, stock, product, ratio, (mean, up_to), job.day, &mut rows);
        }
        rows
    }

    /// Lays what a job takes over the containers in the order they are poured.
    #[allow(clippy::too_many_arguments)] // one line of the set-out list is made of just these
    fn place(
        &mut self,
        known: &Known<'_>,
        stock: &Stock<'_>,
        product: usize,
        ratio: capful_domain::Ratio,
        (mut mean, mut up_to): (f64, f64),
        day: i32,
        rows: &mut Vec<SetOut>,
    ) {
        let shelf = &stock.shelves[product];
        let serves = |c: &Container, until: i32| c.serves(ratio) && until >= day;
        for (place, container) in shelf.containers.iter().enumerate() {
            let left = &mut self.left[product][place];
            if up_to <= 0.0 || *left <= 0.0 || !serves(container, shelf.groups[place].until) {
                continue;
            }
            let (expect, most) = (mean.min(*left), up_to.min(*left));
            let water =
                if ratio.is_neat() { None } else { Some(crate::index::float(ratio.water())) };
            rows.push(SetOut {
                product: known.index.products[product].id.to_string(),
                container: container.id.to_string(),
                expect: stock.amount(known.index, product, expect),
                up_to: stock.amount(known.index, product, most),
                water,
            });
            *left -= expect;
            mean -= expect;
            up_to -= most;
        }
    }
}

/// What a booked job takes of a product in each future in which it comes.
fn drawn(stock: &Stock<'_>, product: usize, place: usize, units: &[UnitOfWork]) -> Vec<f64> {
    let futures = &stock.futures.products[product];
    let own = |pair: u32| units.iter().any(|unit| unit.pair == pair as usize);
    let kept = (0..stock.futures.count).filter(|future| stock.futures.kept[place][*future]);
    kept.map(|future| {
        let takings = futures.of(future).iter();
        let job = takings.filter(|t| t.booked as usize == place && own(t.pair));
        job.map(|t| t.quantity).sum()
    })
    .collect()
}
