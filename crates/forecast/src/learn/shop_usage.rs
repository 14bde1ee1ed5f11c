//! What jobs of a shop take, as others ask for it.

use capful_domain::{Condition, ExpectedPour, Job, Shop, Snapshot, VehicleSize};

use crate::learn::index::Index;
use crate::learn::learned_model::LearnedModel;
use crate::learn::usage::UsageModel;
use crate::plan::UsageRow;

/// What done jobs are taken to have used where nothing was written down for them, as learned at the
/// snapshot's moment: with these the ledger is whole.
#[must_use]
pub fn expected_pours(snapshot: &Snapshot) -> Vec<ExpectedPour> {
    let lessons = LearnedModel::of(snapshot);
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
        let LearnedModel { index, usage, observations, .. } = LearnedModel::of(snapshot);
        let seen = crate::learn::usage_rows::jobs_seen(&index, &observations);
        Self { shop: snapshot.facts.shop.clone(), index, model: usage, seen }
    }

    /// What jobs of one size and condition take: a row for each job type and product.
    #[must_use]
    pub fn rows_at(&self, size: VehicleSize, condition: Condition) -> Vec<UsageRow> {
        crate::learn::usage_rows::rows_at(&self.index, &self.model, &self.seen, (size, condition))
    }

    /// What a job is taken to have used of each product of its sheet, poured when it ended.
    #[must_use]
    pub fn expected_for(&self, job: &Job) -> Vec<ExpectedPour> {
        self.model.expected_for(&self.index, job, job.ended_at(&self.shop)).collect()
    }
}
