//! What the shop's history shows of its use of products: done jobs, what was measured for them,
//! and stretches in which nothing was written down.

use std::collections::{HashMap, HashSet};

use capful_domain::facts::Method;
use capful_domain::{ContainerId, Id, JobStatus, Quantity, Ratio, Snapshot};
use chrono::{DateTime, Days, Duration, NaiveDate, TimeDelta, Utc};

use crate::learn::index::{Index, UnitOfWork, base};

/// One done job's use of one product.
#[derive(Debug, Clone)]
pub(crate) struct JobUse {
    /// Place of the job in the snapshot.
    pub job: usize,
    /// When it ended, as the ledger has it.
    pub at: DateTime<Utc>,
    /// Between these it was under way.
    pub began: DateTime<Utc>,
    pub until: DateTime<Utc>,
    /// Its units of work on the product.
    pub units: Vec<UnitOfWork>,
    /// What was measured for it, if anything was.
    pub measured: Option<f64>,
    /// Whether anything was measured for the job, of whichever product.
    pub recorded: bool,
}

/// A stretch of days in which the shop wrote down no visit, though it was open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Gap {
    pub from: NaiveDate,
    pub to: NaiveDate,
}

/// A job without times is taken to fill so much of its day before its end.
const USUAL_JOB: Duration = Duration::hours(4);

/// What measured pours say of each job and product, in base units of product as bought.
pub(crate) fn measured_pours(snapshot: &Snapshot, index: &Index) -> HashMap<(Id, usize), f64> {
    let mixes = mix_ratios(snapshot);
    let mut measured = HashMap::new();
    for pour in &snapshot.facts.pours {
        let (Some(job), Some(product)) = (&pour.job, index.product_place(&pour.product)) else {
            continue;
        };
        if pour.method == Some(Method::Expected) {
            continue;
        }
        let poured = base(poured_quantity(snapshot, &mixes, pour, product));
        *measured.entry((job.clone(), product)).or_insert(0.0) += poured;
    }
    measured
}

/// The ratio of each mix by its container.
pub(crate) fn mix_ratios(snapshot: &Snapshot) -> HashMap<ContainerId, Ratio> {
    let mixes = snapshot.facts.mixes.iter();
    mixes.map(|mix| (ContainerId::of_mix(&mix.id), mix.ratio)).collect()
}

/// A pour as product as bought.
pub(crate) fn poured_quantity(
    snapshot: &Snapshot,
    mixes: &HashMap<ContainerId, Ratio>,
    pour: &capful_domain::facts::Pour,
    product: usize,
) -> Quantity {
    let written = snapshot.facts.products[product].booked_quantity(pour.amount).unwrap_or_default();
    let own = pour.container.as_ref().and_then(|id| mixes.get(id)).copied();
    pour.ratio.or(own).unwrap_or(Ratio::NEAT).product_in(written)
}

/// A pour of what is on no sheet: when its job ended, and how much it was.
type Shown = (DateTime<Utc>, f64);

/// Adds the pairs that pours have shown and the sheet does not list.
pub(crate) fn add_unlisted_pairs(
    snapshot: &Snapshot,
    index: &mut Index,
    measured: &HashMap<(Id, usize), f64>,
) {
    let jobs: HashMap<&Id, &capful_domain::Job> =
        snapshot.facts.jobs.iter().map(|job| (&job.id, job)).collect();
    let shop = &snapshot.facts.shop;
    let mut unlisted: HashMap<(usize, usize), Vec<Shown>> = HashMap::new();
    let mut pours: Vec<(&(Id, usize), &f64)> = measured.iter().collect();
    pours.sort_by(|a, b| a.0.cmp(b.0));
    for ((job, product), quantity) in pours {
        let Some(job) = jobs.get(job) else { continue };
        let types: Vec<usize> =
            job.job_types.iter().filter_map(|id| index.type_place(id)).collect();
        // A sheet that says "none" is no word on how much it is.
        let is_used = |pair: usize| index.pairs[pair].centre > 0.0;
        let listed = types.iter().any(|t| index.pair_place(*product, *t).is_some_and(is_used));
        if let (false, true, Some(first)) = (listed, *quantity > 0.0, types.first()) {
            unlisted.entry((*product, *first)).or_default().push((job.ended_at(shop), *quantity));
        }
    }
    let mut unlisted: Vec<_> = unlisted.into_iter().collect();
    unlisted.sort_by_key(|(pair, _)| *pair);
    for ((product, job_type), seen) in unlisted {
        let mean = seen.iter().map(|(_, quantity)| quantity).sum::<f64>() / seen.len() as f64;
        let Some(first) = seen.iter().map(|(at, _)| *at).min() else { continue };
        // What is on no sheet leaves the shelf by what is written only: jobs that were finished
        // without a word of it took none. Their share up to the first that did is a proportion of
        // one in so many, by Jeffreys' prior (Brown, Cai & DasGupta 2001, §3.1.3); what comes after
        // it tells a habit from a single time (`usage::shares`).
        let id = &index.job_types[job_type];
        let done = snapshot.facts.jobs.iter().filter(|job| job.status == JobStatus::Done);
        let same = done.filter(|job| job.job_types.contains(id) && job.ended_at(shop) <= first);
        let share = 1.5 / (same.count().max(1) as f64 + 1.0);
        index.add_unlisted(product, job_type, (mean, share), first);
    }
}

/// For each product the done jobs that use it, in the order they ended.
pub(crate) fn job_uses(
    snapshot: &Snapshot,
    index: &Index,
    measured: &HashMap<(Id, usize), f64>,
) -> Vec<Vec<JobUse>> {
    let shop = &snapshot.facts.shop;
    let recorded: HashSet<&Id> = measured.keys().map(|(job, _)| job).collect();
    let mut uses: Vec<Vec<JobUse>> = vec![Vec::new(); index.products.len()];
    for (place, job) in snapshot.facts.jobs.iter().enumerate() {
        if job.status != JobStatus::Done {
            continue;
        }
        let at = job.ended_at(shop);
        let (began, until) = match (job.started_at, job.finished_at) {
            (None, None) => (at, shop.start_of(job.planned_on + Days::new(1))),
            (began, _) => (began.unwrap_or(at - USUAL_JOB).min(at), at),
        };
        for unit in index.units_of(job) {
            let product = index.pairs[unit.pair].product;
            match uses[product].last_mut() {
                Some(last) if last.job == place => last.units.push(unit),
                _ => uses[product].push(JobUse {
                    job: place,
                    at,
                    began,
                    until,
                    units: vec![unit],
                    measured: measured.get(&(job.id.clone(), product)).copied(),
                    recorded: recorded.contains(&job.id),
                }),
            }
        }
    }
    for list in &mut uses {
        list.sort_by_key(|one| (one.at, one.job));
    }
    uses
}

/// Open days in a row without a visit that cannot be chance: so few in ten thousand histories.
const CHANCE_OF_A_GAP: f64 = 1e-4;
const SHORTEST_GAP_DAYS: u32 = 10;

/// Stretches without a visit so long that they say "not written down" or "away", not "quiet".
pub(crate) fn gaps(snapshot: &Snapshot) -> Vec<Gap> {
    let shop = &snapshot.facts.shop;
    let mut days: Vec<NaiveDate> = snapshot
        .facts
        .jobs
        .iter()
        .filter(|job| job.status != JobStatus::Cancelled && job.planned_on <= snapshot.day)
        .map(|job| job.planned_on)
        .collect();
    days.sort_unstable();
    if days.len() < 5 {
        return Vec::new();
    }
    let open_between = |from: NaiveDate, to: NaiveDate| -> u32 {
        let inside = from.iter_days().skip(1).take_while(|day| *day < to);
        u32::try_from(inside.filter(|day| shop.is_open(*day)).count()).unwrap_or(u32::MAX)
    };
    let mut spans: Vec<(u32, Gap)> = days
        .windows(2)
        .filter(|pair| (pair[1] - pair[0]).num_days() > i64::from(SHORTEST_GAP_DAYS))
        .map(|pair| {
            let gap = Gap { from: pair[0] + Days::new(1), to: pair[1] };
            (open_between(pair[0], pair[1]), gap)
        })
        .collect();
    let end = snapshot.day;
    if let Some(last) = days.last().filter(|last| **last < end) {
        spans.push((open_between(*last, end), Gap { from: *last + Days::new(1), to: end }));
    }
    let first = days[0];
    let all_open = f64::from(open_between(first, end) + 1);
    let long: u32 = spans.iter().map(|(open, _)| *open).sum();
    let rate = days.len() as f64 / (all_open - f64::from(long)).max(1.0);
    spans.retain(|(open, _)| {
        *open >= SHORTEST_GAP_DAYS && (-rate * f64::from(*open)).exp() < CHANCE_OF_A_GAP
    });
    spans.into_iter().map(|(_, gap)| gap).collect()
}

/// The last second of the snapshot's day: what is learned is seen from there, so that all day long
/// the same is learned of the same.
pub(crate) fn end_of_day(snapshot: &Snapshot) -> DateTime<Utc> {
    snapshot.facts.shop.start_of(snapshot.day + Days::new(1)) - TimeDelta::seconds(1)
}
