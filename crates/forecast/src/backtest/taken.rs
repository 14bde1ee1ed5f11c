//! The yardstick: what was taken of each product, and how well that is known.
//!
//! A measured pour is what it says. What went between two levels of the shelf (counts, or a
//! container opened when the last was empty) and was not written down otherwise was taken by the
//! unmeasured jobs between; only how it falls on them is thought, in proportion to what such jobs
//! are thought to take. A job with neither took what it is thought to have.

use capful_domain::facts::Method;
use capful_domain::{ExpectedPour, Ratio, Snapshot};
use chrono::{DateTime, NaiveDate, Utc};

use crate::learn::history::{JobUse, mix_ratios, poured_quantity};
use crate::learn::index::{UnitOfWork, base, exact};
use crate::learn::learned_model::LearnedModel;
use crate::learn::observations::Observation;

/// The share of what a span took that its own records must show.
const KNOWN_SHARE: f64 = 0.9;

/// How one taking is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Seen {
    /// It was measured.
    Measured,
    /// It is a part of what went between two levels; the first and the last job between them.
    Between(DateTime<Utc>, DateTime<Utc>),
    /// It is what such a job is thought to take.
    Thought,
}

/// What one job, or nobody's pour, took of one product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Taking {
    pub at: DateTime<Utc>,
    /// Place of the job in the snapshot.
    pub job: Option<usize>,
    /// Base units of product as bought.
    pub quantity: f64,
    pub ratio: Ratio,
    pub seen: Seen,
}

/// What was taken, by product, each in the order of time.
#[derive(Debug, Clone)]
pub(crate) struct Takings {
    pub products: Vec<Vec<Taking>>,
}

/// Everything that is known at the end.
#[derive(Clone, Copy)]
pub(crate) struct Known<'a> {
    pub end: &'a Snapshot,
    pub lessons: &'a LearnedModel,
    pub takings: &'a Takings,
}

/// What a span took, in base units, and how much of it the span's own records show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Total {
    pub quantity: f64,
    pub shown: f64,
}

impl Total {
    /// The share that is shown. Where no job took it, that is known.
    pub fn known_share(self) -> f64 {
        if self.quantity > 0.0 { self.shown / self.quantity } else { 1.0 }
    }

    /// The yardstick's name.
    pub fn yardstick(self) -> &'static str {
        if self.known_share() >= KNOWN_SHARE { "known" } else { "estimated" }
    }
}

/// What counts as taken, for the reader.
pub(crate) fn yardstick(end: NaiveDate) -> String {
    format!(
        "Known: nine tenths or more of what a span took was measured, or went between two levels \
         of the shelf within the span (counts, or a container opened when the last was empty). \
         What went and was not written down as thrown away counts as taken. Estimated: the rest, \
         with jobs at what such jobs are thought to take by all that is known on {end}; that \
         leans on the plan's own learning and flatters it, so it stands apart."
    )
}

impl Takings {
    /// What was taken by all that the snapshot knows; `mean` is what a unit of work is thought to
    /// take, in base units.
    pub fn of(
        snapshot: &Snapshot,
        lessons: &LearnedModel,
        mean: impl Fn(&UnitOfWork) -> f64,
    ) -> Self {
        let parts = lessons.uses.iter().zip(&lessons.observations);
        let mut products: Vec<Vec<Taking>> = parts
            .map(|(uses, observations)| {
                let mut own = thought(lessons, uses, &mean);
                lay_over(&mut own, observations);
                own
            })
            .collect();
        for (product, taking) in of_no_job(snapshot, lessons) {
            products[product].push(taking);
        }
        for list in &mut products {
            list.sort_by_key(|taking| taking.at);
        }
        Self { products }
    }

    /// What was taken after one moment and up to another.
    pub fn between(&self, product: usize, after: DateTime<Utc>, until: DateTime<Utc>) -> Total {
        let all = &self.products[product];
        let from = all.partition_point(|taking| taking.at <= after);
        let own = all[from..].iter().take_while(|taking| taking.at <= until);
        let mut total = Total { quantity: 0.0, shown: 0.0 };
        for taking in own {
            total.quantity += taking.quantity;
            let is_shown = match taking.seen {
                Seen::Measured => true,
                Seen::Between(first, last) => after < first && last <= until,
                Seen::Thought => false,
            };
            if is_shown {
                total.shown += taking.quantity;
            }
        }
        total
    }

    /// What jobs took that nobody measured, as pours.
    pub fn unmeasured(&self, snapshot: &Snapshot, lessons: &LearnedModel) -> Vec<ExpectedPour> {
        let products = self.products.iter().enumerate();
        let each = products.flat_map(|(product, list)| list.iter().map(move |t| (product, t)));
        each.filter(|(_, taking)| taking.seen != Seen::Measured)
            .filter_map(|(product, taking)| {
                let job = &snapshot.facts.jobs[taking.job?];
                Some(ExpectedPour {
                    at: taking.at,
                    job: job.id.clone(),
                    product: lessons.index.products[product].id.clone(),
                    quantity: exact(taking.quantity),
                    ratio: taking.ratio,
                })
            })
            .collect()
    }
}

/// What each use took by its measured pours, else by thought.
fn thought(
    lessons: &LearnedModel,
    uses: &[JobUse],
    mean: impl Fn(&UnitOfWork) -> f64,
) -> Vec<Taking> {
    let ratio_of = |one: &JobUse| {
        one.units.first().map_or(Ratio::NEAT, |unit| lessons.index.pairs[unit.pair].ratio)
    };
    uses.iter()
        .map(|one| Taking {
            at: one.at,
            job: Some(one.job),
            quantity: one.measured.unwrap_or_else(|| one.units.iter().map(&mean).sum()),
            ratio: ratio_of(one),
            seen: if one.measured.is_some() { Seen::Measured } else { Seen::Thought },
        })
        .collect()
}

/// Lays what went between two levels over the unmeasured jobs between, in proportion to what they
/// are thought to take. What went where no job ended falls on those of the stretch after it.
fn lay_over(takings: &mut [Taking], observations: &[Observation]) {
    let mut carried: Option<(DateTime<Utc>, f64)> = None;
    for span in observations.iter().filter(|o| !o.measured) {
        let before = carried.take().filter(|(at, _)| *at == span.from).map_or(0.0, |(_, q)| q);
        let start = takings.partition_point(|taking| taking.at <= span.from);
        let end = takings.partition_point(|taking| taking.at <= span.to);
        let between = takings.get_mut(start..end).unwrap_or_default();
        let unmeasured = || between.iter().filter(|taking| taking.seen != Seen::Measured);
        let all: f64 = unmeasured().map(|taking| taking.quantity).sum();
        let ends = unmeasured().map(|t| t.at).min().zip(unmeasured().map(|t| t.at).max());
        let Some((first, last)) = ends.filter(|_| all > 0.0) else {
            carried = Some((span.to, before + span.seen));
            continue;
        };
        let ratio = (before + span.seen) / all;
        for taking in between.iter_mut().filter(|taking| taking.seen != Seen::Measured) {
            taking.quantity *= ratio;
            taking.seen = Seen::Between(first, last);
        }
    }
}

/// Pours that were measured and are no job's.
fn of_no_job(snapshot: &Snapshot, lessons: &LearnedModel) -> Vec<(usize, Taking)> {
    let mixes = mix_ratios(snapshot);
    let pours = snapshot.facts.pours.iter();
    let own = pours.filter(|p| p.job.is_none() && p.method != Some(Method::Expected));
    own.filter_map(|pour| {
        let product = lessons.index.product_place(&pour.product)?;
        let quantity = base(poured_quantity(snapshot, &mixes, pour, product));
        let ratio = pour.ratio.unwrap_or(Ratio::NEAT);
        let seen = Seen::Measured;
        Some((product, Taking { at: pour.at, job: None, quantity, ratio, seen }))
    })
    .collect()
}
