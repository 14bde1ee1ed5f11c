//! From a snapshot to a plan.

use std::collections::HashSet;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use capful_domain::{Condition, ExpectedPour, Id, Job, Ledger, Shop, Snapshot, VehicleSize};
use chrono::{DateTime, Days, TimeDelta, Utc};

use crate::arrivals::Arrivals;
use crate::doubt::Doubt;
use crate::futures::Known;
use crate::history::{Gap, JobUse, add_unlisted_pairs, gaps, job_uses, measured_pours};
use crate::index::Index;
use crate::last::Last;
use crate::lead_time::LeadTime;
use crate::observations::{Observation, Records, records};
use crate::plan::{Plan, UsageRow};
use crate::stock::Stock;
use crate::told::Told;
use crate::usage::UsageModel;
use crate::walked::{Walked, walked};
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
#[derive(Debug)]
pub(crate) struct Lessons {
    pub index: Index,
    pub uses: Vec<Vec<JobUse>>,
    pub gaps: Vec<Gap>,
    pub observations: Vec<Vec<Observation>>,
    /// Of each product whether the shop writes down when a container is opened.
    pub tells_openings: Vec<bool>,
    pub usage: UsageModel,
}

impl Lessons {
    pub fn of(snapshot: &Snapshot) -> Self {
        let (index, uses, gaps) = Self::history(snapshot);
        let nothing = vec![Vec::new(); index.products.len()];
        let now = end_of_day(snapshot);
        let learned = |seen: &[Vec<Observation>]| UsageModel::learn(&index, &uses, seen, now);
        let books_of = |usage: &UsageModel, wanted: &HashSet<&Id>| {
            let expected = usage.expected_pours(snapshot, &index);
            snapshot.ledger_of(&expected, |product| wanted.contains(product))
        };
        // What a thrown-away container held is as the books have it: first by the sheet, then by
        // what its product is learned to be used like.
        let mut usage = learned(&nothing);
        let unknown = thrown_away_unsaid(snapshot);
        if !unknown.is_empty() {
            let books = books_of(&usage, &unknown);
            let is_unknown = |product: usize| unknown.contains(&index.products[product].id);
            let seen = records(snapshot, &index, &uses, &gaps, &books, is_unknown);
            usage = learned(&seen.observations);
        }
        let books = books_of(&usage, &told_by_books(snapshot));
        let Records { observations, tells_openings } =
            records(snapshot, &index, &uses, &gaps, &books, |_| true);
        let usage = learned(&observations);
        Self { index, uses, gaps, observations, tells_openings, usage }
    }

    fn told(snapshot: &Snapshot, told: &[Told]) -> Self {
        let (index, uses, gaps) = Self::history(snapshot);
        let usage = UsageModel::told(&index, told);
        let books = snapshot.ledger(&usage.expected_pours(snapshot, &index));
        let Records { observations, tells_openings } =
            records(snapshot, &index, &uses, &gaps, &books, |_| true);
        Self { index, uses, gaps, observations, tells_openings, usage }
    }

    fn history(snapshot: &Snapshot) -> (Index, Vec<Vec<JobUse>>, Vec<Gap>) {
        let mut index = Index::of(&snapshot.facts);
        let measured = measured_pours(snapshot, &index);
        add_unlisted_pairs(snapshot, &mut index, &measured);
        let uses = job_uses(snapshot, &index, &measured);
        (index, uses, gaps(snapshot))
    }
}

/// The last second of the snapshot's day: what is learned is seen from there, so that all day long
/// the same is learned of the same.
pub(crate) fn end_of_day(snapshot: &Snapshot) -> DateTime<Utc> {
    snapshot.facts.shop.start_of(snapshot.day + Days::new(1)) - TimeDelta::seconds(1)
}

/// Products of which something was thrown away and not said how much.
fn thrown_away_unsaid(snapshot: &Snapshot) -> HashSet<&Id> {
    let unsaid = snapshot.facts.discards.iter().filter(|discard| discard.amount.is_none());
    unsaid.map(|discard| &discard.product).collect()
}

/// The products whose records are not read without the books: those that were thrown away, out of
/// whichever containers, and those that were weighed.
fn told_by_books(snapshot: &Snapshot) -> HashSet<&Id> {
    let thrown = snapshot.facts.discards.iter().map(|discard| &discard.product);
    let weighed = snapshot.facts.counts.iter().filter(|count| count.gross_g.is_some());
    thrown.chain(weighed.map(|count| &count.product)).collect()
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
    let learned = Learned::of(snapshot, Lessons::of(snapshot));
    let (plan, ..) = advised(snapshot, &learned, settings, seed, None);
    plan
}

/// The same of a shop that is told what its jobs take, and has nothing to learn of it: what the
/// plans of shops that have to learn are held against.
#[must_use]
pub fn plan_told(snapshot: &Snapshot, settings: &PlanSettings, seed: u64, told: &[Told]) -> Plan {
    let learned = Learned::of(snapshot, Lessons::told(snapshot, told));
    let (plan, ..) = advised(snapshot, &learned, settings, seed, None);
    plan
}

/// A planner that keeps what its last plan was made of, and makes the next one sooner where little
/// changed: [`plan`] gives the same, byte for byte.
#[derive(Debug, Default)]
pub struct Planner {
    last: Mutex<Option<Last>>,
}

impl Planner {
    /// Everything advised at the snapshot's moment.
    #[must_use]
    pub fn plan(&self, snapshot: Arc<Snapshot>, settings: &PlanSettings, seed: u64) -> Plan {
        let mut kept = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        // A plan that is not made to its end leaves nothing behind.
        let last = kept.take();
        let learned = last.as_ref().and_then(|last| last.learned_of(&snapshot));
        let last = last
            .filter(|last| learned.is_some() && last.seed == seed && last.settings == *settings);
        let learned =
            learned.unwrap_or_else(|| Arc::new(Learned::of(&snapshot, Lessons::of(&snapshot))));
        let (plan, stock, walked, held) =
            advised(&snapshot, &learned, settings, seed, last.as_ref());
        let settings = settings.clone();
        *kept = Some(Last { snapshot, settings, seed, learned, stock, walked, held });
        plan
    }

    /// Of how many products the last plan took over what was worked out for the one before.
    #[must_use]
    pub fn held(&self) -> usize {
        let last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        last.as_ref().map_or(0, |last| last.held)
    }
}

/// What the past teaches, and how the shelf stands by it.
#[derive(Debug)]
pub(crate) struct Learned {
    lessons: Lessons,
    ledger: Ledger,
    doubts: Vec<Doubt>,
}

impl Learned {
    fn of(snapshot: &Snapshot, lessons: Lessons) -> Self {
        let (index, usage) = (&lessons.index, &lessons.usage);
        let ledger = snapshot.ledger(&usage.expected_pours(snapshot, index));
        let doubts = Doubt::of(snapshot, index, usage, &lessons.uses, &ledger);
        Self { lessons, ledger, doubts }
    }
}

fn advised(
    snapshot: &Snapshot,
    learned: &Learned,
    settings: &PlanSettings,
    seed: u64,
    last: Option<&Last>,
) -> (Plan, Stock, Vec<Walked>, usize) {
    let Learned { lessons, ledger, doubts } = learned;
    let (index, usage) = (&lessons.index, &lessons.usage);
    let arrivals = Arrivals::learn(snapshot, index, &lessons.gaps, seed);
    let suppliers = &snapshot.facts.suppliers;
    let leads = suppliers.iter().map(|s| LeadTime::learn(snapshot, s)).collect();
    let known = Known {
        snapshot,
        index,
        usage,
        tells_openings: &lessons.tells_openings,
        ledger,
        arrivals: &arrivals,
        seed,
    };
    let futures = settings.futures.clamp(50, 20_000) as usize;
    let stock = Stock::of(&known, leads, doubts, futures);
    let held = AtomicUsize::new(0);
    let holds = |product| {
        let walked = last?.walked_of(&stock, product)?;
        held.fetch_add(1, Ordering::Relaxed);
        Some(walked)
    };
    let walked = walked(&known, &stock, holds);
    let grounds = Grounds {
        known: &known,
        stock: &stock,
        doubts,
        observations: &lessons.observations,
        gaps: &lessons.gaps,
    };
    let plan = Plan {
        shop: snapshot.facts.shop.name.clone(),
        as_of: snapshot.day,
        seed,
        currency: snapshot.facts.shop.currency.code().to_owned(),
        weekly_order: crate::weekly_order::weekly_order(&known, &stock, &walked),
        products: walked.iter().map(|own| own.outlook.clone()).collect(),
        going_off: crate::going_off::going_off(&known, &stock, &walked),
        readiness: crate::readiness::readiness(&known, &stock, &walked),
        usage: crate::usage_rows::usage_rows(index, usage, &lessons.observations),
        warnings: crate::warnings::warnings(&grounds),
    };
    (plan, stock, walked, held.into_inner())
}
