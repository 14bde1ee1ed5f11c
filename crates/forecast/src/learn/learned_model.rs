//! What a shop's history teaches: the model of usage and what it was learned from.

use std::collections::HashSet;

use capful_domain::{Id, Snapshot};

use crate::learn::given_usage::GivenUsage;
use crate::learn::history::{
    Gap, JobUse, add_unlisted_pairs, end_of_day, gaps, job_uses, measured_pours,
};
use crate::learn::index::Index;
use crate::learn::observations::{Observation, Records, records};
use crate::learn::usage::UsageModel;

/// What the shop's history teaches of usage.
#[derive(Debug)]
pub(crate) struct LearnedModel {
    pub index: Index,
    pub uses: Vec<Vec<JobUse>>,
    pub gaps: Vec<Gap>,
    pub observations: Vec<Vec<Observation>>,
    /// Of each product whether the shop writes down when a container is opened.
    pub tells_openings: Vec<bool>,
    pub usage: UsageModel,
}

impl LearnedModel {
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

    pub fn told(snapshot: &Snapshot, told: &[GivenUsage]) -> Self {
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
