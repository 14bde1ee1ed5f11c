//! A snapshot: everything known about one shop at one moment.

use std::collections::HashSet;

use chrono::{DateTime, NaiveDate, Utc};

use crate::facts::{Facts, Method};
use crate::id::Id;
use crate::job::{Job, JobStatus};
use crate::ledger::Ledger;
use crate::order::OrderBook;
use crate::posting::ExpectedPour;

/// Everything known about one shop at one moment. Nothing that happened or was said later is in it.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// The moment.
    pub moment: DateTime<Utc>,
    /// The day it falls on in the shop's zone.
    pub day: NaiveDate,
    /// What was written down until then; each job as it stood.
    pub facts: Facts,
    /// What was ordered and has not come.
    pub orders: OrderBook,
}

impl Snapshot {
    /// What `facts` said at `moment`.
    #[must_use]
    pub fn of(facts: &Facts, moment: DateTime<Utc>) -> Self {
        let mut facts = facts.clone();
        let shop = facts.shop.clone();
        facts.jobs.retain_mut(|job| as_it_stood(job, moment, &shop));
        facts.pours.retain(|row| row.at <= moment);
        facts.receipts.retain(|row| row.at <= moment);
        facts.openings.retain(|row| row.at <= moment);
        facts.discards.retain(|row| row.at <= moment);
        facts.mixes.retain(|row| row.at <= moment);
        facts.counts.retain(|row| row.at <= moment);
        facts.orders.retain(|row| row.placed_at <= moment);
        let placed: HashSet<Id> = facts.orders.iter().map(|order| order.id.clone()).collect();
        facts.order_lines.retain(|line| placed.contains(&line.order));
        let orders = OrderBook::of(&facts);
        Self { moment, day: shop.day_of(moment), facts, orders }
    }

    /// Done jobs and the products of which something was poured for them, whatever the method.
    #[must_use]
    pub fn poured_pairs(&self) -> HashSet<(&Id, &Id)> {
        let jobs = self.facts.pours.iter().filter_map(|p| p.job.as_ref().map(|j| (j, &p.product)));
        jobs.collect()
    }

    /// Done jobs and the products of which a pour was measured or weighed for them.
    #[must_use]
    pub fn measured_pairs(&self) -> HashSet<(&Id, &Id)> {
        let seen = self.facts.pours.iter().filter(|p| p.method != Some(Method::Expected));
        seen.filter_map(|p| p.job.as_ref().map(|j| (j, &p.product))).collect()
    }

    /// The ledger of everything until the moment: each row in the order of time, and for done jobs
    /// what they are taken to have used where nothing was written down.
    #[must_use]
    pub fn ledger(&self, expected: &[ExpectedPour]) -> Ledger {
        self.ledger_of(expected, |_| true)
    }

    /// The same of some products alone.
    #[must_use]
    pub fn ledger_of(&self, expected: &[ExpectedPour], is_wanted: impl Fn(&Id) -> bool) -> Ledger {
        let facts = &self.facts;
        let mut ledger = Ledger::new(&facts.shop, &facts.products);
        for row in self.rows(expected, is_wanted) {
            match row.kind {
                RowKind::Receipt => ledger.receive(&facts.receipts[row.place]),
                RowKind::Opening => ledger.open(&facts.openings[row.place]),
                RowKind::Mix => ledger.mix(&facts.mixes[row.place]),
                RowKind::Pour => ledger.pour(&facts.pours[row.place]),
                RowKind::Expected => ledger.pour_expected(&expected[row.place]),
                RowKind::Discard => ledger.discard(&facts.discards[row.place]),
                RowKind::Count => ledger.count(&facts.counts[row.place]),
            }
        }
        ledger
    }

    /// The rows of the products that are wanted, in the order of time.
    fn rows(&self, expected: &[ExpectedPour], is_wanted: impl Fn(&Id) -> bool) -> Vec<Row> {
        let facts = &self.facts;
        let mut rows = Vec::new();
        let mut add = |kind: RowKind, place: usize, at: DateTime<Utc>, product: &Id| {
            if is_wanted(product) {
                rows.push(Row { at, kind, place });
            }
        };
        for (place, row) in facts.receipts.iter().enumerate() {
            add(RowKind::Receipt, place, row.at, &row.product);
        }
        for (place, row) in facts.openings.iter().enumerate() {
            add(RowKind::Opening, place, row.at, &row.product);
        }
        for (place, row) in facts.mixes.iter().enumerate() {
            add(RowKind::Mix, place, row.at, &row.product);
        }
        for (place, row) in facts.pours.iter().enumerate() {
            add(RowKind::Pour, place, row.at, &row.product);
        }
        for (place, row) in expected.iter().enumerate() {
            add(RowKind::Expected, place, row.at, &row.product);
        }
        for (place, row) in facts.discards.iter().enumerate() {
            add(RowKind::Discard, place, row.at, &row.product);
        }
        for (place, row) in facts.counts.iter().enumerate() {
            add(RowKind::Count, place, row.at, &row.product);
        }
        rows.sort();
        rows
    }
}

/// A row of the shop's history; of two at the same moment the one whose kind stands first goes
/// first, then the one that stands first in its file.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Row {
    at: DateTime<Utc>,
    kind: RowKind,
    place: usize,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum RowKind {
    Receipt,
    Discard,
    Opening,
    Mix,
    Pour,
    Expected,
    Count,
}

/// Puts a job back to where it stood; `false` where it was not booked yet.
fn as_it_stood(job: &mut Job, moment: DateTime<Utc>, shop: &crate::shop::Shop) -> bool {
    let Some(status) = job.status_at(moment, shop) else { return false };
    job.status = status;
    match status {
        JobStatus::Done | JobStatus::Cancelled => {}
        JobStatus::Booked => {
            (job.started_at, job.finished_at, job.cancelled_at) = (None, None, None);
        }
        JobStatus::Started => (job.finished_at, job.cancelled_at) = (None, None),
    }
    true
}
