//! From a snapshot to a plan.

use std::collections::HashSet;

use capful_domain::{Condition, ExpectedPour, Id, Job, Shop, Snapshot, VehicleSize};

use crate::arrivals::Arrivals;
use crate::doubt::Doubt;
use crate::futures::Known;
use crate::history::{Gap, JobUse, add_unlisted_pairs, gaps, job_uses, measured_pours};
use crate::index::Index;
use crate::lead_time::LeadTime;
use crate::observations::{Observation, observations};
use crate::plan::{Plan, UsageRow};
use crate::stock::Stock;
use crate::told::Told;
use crate::usage::UsageModel;
use crate::warnings::Grounds;

/// How the planner works; nothing in it says what the shop wants (that is in the shop's own
/// settings).
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSettings {
    /// Futures drawn. More make the chances finer and the plan slower.
    pub futures: u32,
}

impl Default for PlanSettings {
    fn default() -> Self {
        Self { futures: 400 }
    }
}

/// What the shop's history teaches of usage.
pub(crate) struct Lessons {
    pub index: Index,
    pub uses: Vec<Vec<JobUse>>,
    pub gaps: Vec<Gap>,
    pub observations: Vec<Vec<Observation>>,
    pub usage: UsageModel,
}

impl Lessons {
    pub fn of(snapshot: &Snapshot) -> Self {
        let (index, uses, gaps) = Self::history(snapshot);
        let nothing = vec![Vec::new(); index.products.len()];
        let learned =
            |seen: &[Vec<Observation>]| UsageModel::learn(&index, &uses, seen, snapshot.moment);
        let seen_by = |usage: &UsageModel, wanted: &HashSet<&Id>| {
            let expected = usage.expected_pours(snapshot, &index);
            let books = snapshot.ledger_of(&expected, |product| wanted.contains(product));
            observations(snapshot, &index, &uses, &gaps, &books)
        };
        // What a thrown-away container held is as the books have it: first by the sheet, then by
        // what its product is learned to be used like.
        let mut usage = learned(&nothing);
        let unknown = thrown_away_unsaid(snapshot);
        if !unknown.is_empty() {
            let mut seen = seen_by(&usage, &unknown);
            for (own, product) in seen.iter_mut().zip(&index.products) {
                if !unknown.contains(&product.id) {
                    own.clear();
                }
            }
            usage = learned(&seen);
        }
        let observations = seen_by(&usage, &told_by_books(snapshot, unknown));
        let usage = learned(&observations);
        Self { index, uses, gaps, observations, usage }
    }

    fn told(snapshot: &Snapshot, told: &[Told]) -> Self {
        let (index, uses, gaps) = Self::history(snapshot);
        let usage = UsageModel::told(&index, told);
        let books = snapshot.ledger(&usage.expected_pours(snapshot, &index));
        let seen = observations(snapshot, &index, &uses, &gaps, &books);
        Self { index, uses, gaps, observations: seen, usage }
    }

    fn history(snapshot: &Snapshot) -> (Index, Vec<Vec<JobUse>>, Vec<Gap>) {
        let mut index = Index::of(&snapshot.facts);
        let measured = measured_pours(snapshot, &index);
        add_unlisted_pairs(snapshot, &mut index, &measured);
        let uses = job_uses(snapshot, &index, &measured);
        (index, uses, gaps(snapshot))
    }
}

/// Products of which something was thrown away and not said how much.
fn thrown_away_unsaid(snapshot: &Snapshot) -> HashSet<&Id> {
    let unsaid = snapshot.facts.discards.iter().filter(|discard| discard.amount.is_none());
    unsaid.map(|discard| &discard.product).collect()
}

/// The products whose records are not read without the books: the `unknown`, and those that were
/// weighed, on whichever containers there were.
fn told_by_books<'s>(snapshot: &'s Snapshot, unknown: HashSet<&'s Id>) -> HashSet<&'s Id> {
    let weighed = snapshot.facts.counts.iter().filter(|count| count.gross_g.is_some());
    unknown.into_iter().chain(weighed.map(|count| &count.product)).collect()
}

/// What done jobs are taken to have used where nothing was written down for them, as learned at the
/// snapshot's moment: with these the ledger is whole.
#[must_use]
pub fn expected_pours(snapshot: &Snapshot) -> Vec<ExpectedPour> {
    let lessons = Lessons::of(snapshot);
    lessons.usage.expected_pours(snapshot, &lessons.index)
}

/// What jobs take, as learned at one moment, kept so that a job that ends later can be deducted
/// without learning it all again.
#[derive(Debug, Clone)]
pub struct Usage {
    shop: Shop,
    index: Index,
    model: UsageModel,
    seen: Vec<u32>,
}

impl Usage {
    /// Learns from everything known at the snapshot's moment.
    #[must_use]
    pub fn learn(snapshot: &Snapshot) -> Self {
        let Lessons { index, usage, observations, .. } = Lessons::of(snapshot);
        let seen = crate::usage_rows::jobs_seen(&index, &observations);
        Self { shop: snapshot.facts.shop.clone(), index, model: usage, seen }
    }

    /// What jobs of one size and condition take: a row for each job type and product.
    #[must_use]
    pub fn rows_at(&self, size: VehicleSize, condition: Condition) -> Vec<UsageRow> {
        crate::usage_rows::rows_at(&self.index, &self.model, &self.seen, (size, condition))
    }

    /// What a job is taken to have used of each product of its sheet, poured when it ended.
    #[must_use]
    pub fn expected_for(&self, job: &Job) -> Vec<ExpectedPour> {
        self.model.expected_for(&self.index, job, job.ended_at(&self.shop)).collect()
    }
}

/// Everything advised at the snapshot's moment. Pure: the same input gives the same plan, on any
/// number of cores.
#[must_use]
pub fn plan(snapshot: &Snapshot, settings: &PlanSettings, seed: u64) -> Plan {
    advised(snapshot, &Lessons::of(snapshot), settings, seed)
}

/// The same of a shop that is told what its jobs take, and has nothing to learn of it: what the
/// plans of shops that have to learn are held against.
#[must_use]
pub fn plan_told(snapshot: &Snapshot, settings: &PlanSettings, seed: u64, told: &[Told]) -> Plan {
    advised(snapshot, &Lessons::told(snapshot, told), settings, seed)
}

fn advised(snapshot: &Snapshot, lessons: &Lessons, settings: &PlanSettings, seed: u64) -> Plan {
    let (index, usage) = (&lessons.index, &lessons.usage);
    let ledger = snapshot.ledger(&usage.expected_pours(snapshot, index));
    let arrivals = Arrivals::learn(snapshot, index, &lessons.gaps, seed);
    let suppliers = &snapshot.facts.suppliers;
    let leads = suppliers.iter().map(|s| LeadTime::learn(snapshot, s)).collect();
    let doubts = Doubt::of(snapshot, index, usage, &lessons.uses, &ledger);
    let known = Known { snapshot, index, usage, arrivals: &arrivals, seed };
    let futures = settings.futures.clamp(50, 20_000) as usize;
    let stock = Stock::of(&known, &ledger, leads, &doubts, futures);
    let prospects = crate::prospect::prospects(&known, &stock);
    let grounds = Grounds {
        known: &known,
        stock: &stock,
        doubts: &doubts,
        observations: &lessons.observations,
        gaps: &lessons.gaps,
    };
    Plan {
        shop: snapshot.facts.shop.name.clone(),
        as_of: snapshot.day,
        seed,
        currency: snapshot.facts.shop.currency.code().to_owned(),
        weekly_order: crate::weekly_order::weekly_order(&known, &stock),
        products: crate::outlook::outlooks(&known, &stock),
        going_off: crate::going_off::going_off(&known, &stock, &prospects),
        readiness: crate::readiness::readiness(&known, &stock, &prospects),
        usage: crate::usage_rows::usage_rows(index, usage, &lessons.observations),
        warnings: crate::warnings::warnings(&grounds),
    }
}
