//! What a job may lack, taken apart: each future's shelf is walked once more, with a look at it
//! just before the job.

use std::collections::BTreeMap;

use capful_domain::Ratio;

use crate::decide::projection::Shortage;
use crate::learn::booked_job::BookedJob;
use crate::plan::{AmountIn, ComesBefore, ShortParts};
use crate::simulate::scenarios::{Draw, ModelInputs, NOT_BOOKED, today_left};
use crate::simulate::stock::Stock;
use crate::simulate::walk::Walk;
use crate::statistics::rounded;

/// The share of the futures, those with least left, that `swing` is for.
const WORST: f64 = 0.1;

/// Sums over the futures in which a job comes, in base units.
#[derive(Debug, Clone, Default)]
struct Before {
    futures: usize,
    books_off: f64,
    /// What each line on order has brought, and in how many futures.
    came: Vec<(f64, u32)>,
    booked: f64,
    not_booked: f64,
    goes_off: f64,
    other_ratio: f64,
    takes: f64,
    /// What is left over in each future, what is missing taken off.
    left: Vec<f64>,
}

/// What one product of some booked jobs is made of, job by job.
pub(crate) fn parts_of(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    jobs: &[usize],
) -> Vec<ShortParts> {
    let mut sums = vec![Before::default(); jobs.len()];
    for sum in &mut sums {
        sum.came = vec![(0.0, 0); stock.shelves[product].coming.len()];
    }
    let mut own_place = vec![None; stock.futures.booked.len()];
    for (place, job) in jobs.iter().enumerate() {
        own_place[*job] = Some(place);
    }
    let mut walk = Walk::default();
    let mut looks: Vec<Option<Look>> = Vec::new();
    let mut draws = Vec::new();
    for future in 0..stock.futures.count {
        let came: Vec<(i32, f64)> = came(inputs, stock, product, future);
        with_jobs(&mut draws, stock, (product, future), jobs);
        let rules = stock.rules(inputs.index, product, future);
        let (shelf, coming) = (&stock.shelves[product], &stock.coming[product][future]);
        looks.clear();
        looks.resize(jobs.len(), None);
        let mut wanted = Wanted::default();
        walk.run_seen(&rules, &shelf.groups, coming, &draws, |walk, place| {
            let before = wanted;
            wanted.add(&draws[place]);
            let own = own_place.get(draws[place].booked as usize).copied().flatten();
            let Some(own) = own.filter(|own: &usize| looks[*own].is_none()) else { return };
            let ratios = ratios(inputs, &stock.futures.booked[jobs[own]], product);
            looks[own] = Some(Look::at(walk, before, &ratios));
        });
        let comes = jobs.iter().map(|job| stock.futures.kept[*job][future]);
        for (((job, sum), look), comes) in jobs.iter().zip(&mut sums).zip(&looks).zip(comes) {
            let Some(look) = look.as_ref().filter(|_| comes) else { continue };
            let day = stock.futures.booked[*job].day;
            let takes = draws.iter().filter(|t| t.booked as usize == *job);
            sum.add(look, shelf.on_hand, (&came, day), takes.map(|t| t.quantity).sum());
        }
    }
    let jobs = jobs.iter().zip(sums);
    jobs.map(|(job, sum)| sum.parts(inputs, stock, product, *job)).collect()
}

/// For each line on order the day that it comes in a future, and how much it is.
fn came(inputs: &ModelInputs<'_>, stock: &Stock, product: usize, future: usize) -> Vec<(i32, f64)> {
    let lines = stock.shelves[product].coming.iter();
    let today_left = today_left(inputs.snapshot);
    let day = |line: &crate::simulate::shelf::Coming| {
        let lead = &stock.leads[line.supplier];
        lead.draw_rest(inputs.seed, future, &line.order, line.age_days, today_left)
    };
    lines.map(|line| (day(line), f64::from(line.count) * line.size)).collect()
}

/// A future's takings; a job that takes none of it has one of nothing, to be looked at.
fn with_jobs(
    draws: &mut Vec<Draw>,
    stock: &Stock,
    (product, future): (usize, usize),
    jobs: &[usize],
) {
    draws.clear();
    draws.extend_from_slice(stock.futures.products[product].of(future));
    for job in jobs.iter().filter(|job| stock.futures.kept[**job][future]) {
        let (booked, day) = (*job as u32, stock.futures.booked[*job].day);
        let place = draws.partition_point(|t| (t.day, t.booked) < (day, booked));
        if draws.get(place).is_none_or(|t| t.booked != booked) {
            let stall_cost = stock.futures.booked[*job].stall_cost;
            draws.insert(place, Draw { day, booked, pair: 0, quantity: 0.0, stall_cost });
        }
    }
}

/// The ratios at which a job takes a product.
fn ratios(inputs: &ModelInputs<'_>, job: &BookedJob, product: usize) -> Vec<Ratio> {
    let pairs = job.units.iter().map(|unit| &inputs.index.pairs[unit.pair]);
    pairs.filter(|pair| pair.product == product).map(|pair| pair.ratio).collect()
}

/// What jobs want up to some point of a future, booked and not.
#[derive(Debug, Clone, Copy, Default)]
struct Wanted {
    booked: f64,
    not_booked: f64,
}

impl Wanted {
    fn add(&mut self, draw: &Draw) {
        let own = if draw.booked == NOT_BOOKED { &mut self.not_booked } else { &mut self.booked };
        *own += draw.quantity;
    }
}

/// The shelf just before a job.
#[derive(Debug, Clone, Copy)]
struct Look {
    level: f64,
    other_ratio: f64,
    booked: f64,
    not_booked: f64,
    wasted: f64,
}

impl Look {
    fn at(walk: &Walk, before: Wanted, ratios: &[Ratio]) -> Self {
        let missing = |is_booked: bool| -> f64 {
            let own = walk.shortages.iter().filter(|s| (s.booked != NOT_BOOKED) == is_booked);
            own.map(|s| s.missing).sum()
        };
        Self {
            level: walk.level(|_| true),
            other_ratio: walk.level(|group| group.mix.is_some_and(|own| !ratios.contains(&own))),
            booked: before.booked - missing(true),
            not_booked: before.not_booked - missing(false),
            wasted: walk.wasted,
        }
    }
}

impl Before {
    fn add(&mut self, look: &Look, on_hand: f64, (came, day): (&[(i32, f64)], i32), takes: f64) {
        self.futures += 1;
        let mut all = 0.0;
        for (sum, (own, quantity)) in self.came.iter_mut().zip(came) {
            if *own <= day {
                sum.0 += quantity;
                sum.1 += 1;
                all += quantity;
            }
        }
        // What the walk began with is what it has come to and what has gone.
        let gone = look.booked + look.not_booked + look.wasted;
        self.books_off += look.level + gone - on_hand - all;
        self.booked += look.booked;
        self.not_booked += look.not_booked;
        self.goes_off += look.wasted;
        self.other_ratio += look.other_ratio;
        self.takes += takes;
        self.left.push(look.level - look.other_ratio - takes);
    }

    fn parts(
        self,
        inputs: &ModelInputs<'_>,
        stock: &Stock,
        product: usize,
        job: usize,
    ) -> ShortParts {
        let futures = self.futures.max(1) as f64;
        let amount = |base: f64| stock.amount(inputs.index, product, base);
        let mean = |sum: f64| amount(sum / futures);
        let of = |number: f64| AmountIn { amount: rounded(number, 3), ..amount(0.0) };
        let shelf = &stock.shelves[product];
        let coming: Vec<ComesBefore> = shelf
            .coming
            .iter()
            .zip(&self.came)
            .map(|(line, (sum, times))| ComesBefore {
                order: line.order.to_string(),
                holds: amount(f64::from(line.count) * line.size),
                chance: rounded(f64::from(*times) / futures, 4),
                average: mean(*sum),
            })
            .collect();
        let takes = |job: &&BookedJob| !ratios(inputs, job, product).is_empty();
        let before = stock.futures.booked[..job].iter().filter(takes).count();
        let mut parts = ShortParts {
            on_hand: amount(shelf.on_hand),
            books_off: mean(self.books_off),
            coming,
            booked_jobs: u32::try_from(before).unwrap_or(u32::MAX),
            booked: mean(self.booked),
            not_booked: mean(self.not_booked),
            goes_off: mean(self.goes_off),
            other_ratio: mean(self.other_ratio),
            takes: mean(self.takes),
            left: of(0.0),
            swing: of(0.0),
            least: amount(worst(self.left)),
        };
        // What is left of the printed numbers, so that they add up as they stand.
        let came: f64 = parts.coming.iter().map(|line| line.average.amount).sum();
        let there = parts.on_hand.amount + parts.books_off.amount + came;
        let gone = parts.booked.amount + parts.not_booked.amount + parts.goes_off.amount;
        let left = there - gone - parts.other_ratio.amount - parts.takes.amount;
        parts.left = of(left);
        parts.swing = of(parts.left.amount - parts.least.amount);
        parts
    }
}

/// The mean of the lowest tenth.
fn worst(mut left: Vec<f64>) -> f64 {
    left.sort_by(f64::total_cmp);
    left.truncate((WORST * left.len() as f64).ceil() as usize);
    left.iter().sum::<f64>() / left.len().max(1) as f64
}

/// Each product's part of a job's chance of not being ready, in ten-thousandths that add up to
/// `all`: a future in which several are lacking and nothing serves for them counts in equal parts.
pub(crate) fn split(shortages: &[Shortage], all: u32) -> BTreeMap<usize, u32> {
    let mut lacking: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for shortage in shortages.iter().filter(|shortage| !shortage.covered) {
        let own = lacking.entry(shortage.future).or_default();
        if !own.contains(&shortage.product) {
            own.push(shortage.product);
        }
    }
    let stalled = lacking.len().max(1) as f64;
    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
    for products in lacking.values() {
        for product in products {
            *shares.entry(*product).or_default() +=
                f64::from(all) / stalled / products.len() as f64;
        }
    }
    let mut parts: Vec<(usize, u32, f64)> = shares
        .iter()
        .map(|(p, share)| (*p, (share + 1e-9).floor() as u32, share.fract()))
        .collect();
    // What rounding down leaves goes to those that it took most from.
    parts.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
    let mut rest = all.saturating_sub(parts.iter().map(|part| part.1).sum());
    for part in &mut parts {
        let more = rest.min(1);
        part.1 += more;
        rest -= more;
    }
    parts.into_iter().map(|(product, share, _)| (product, share)).collect()
}
