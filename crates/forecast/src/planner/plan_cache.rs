//! The last plan, and what of it holds for the next.
//!
//! A job that is booked for a day to come teaches nothing of what jobs take, and changes the
//! futures of the products that it uses and of no other. What was made of the very same input is
//! not made again, so that a plan is the same, byte for byte, whether there was one before it or
//! not.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use capful_domain::{Facts, Id, Job, JobStatus, Snapshot};

use crate::decide::product_result::ProductResult;
use crate::planner::learned_state::LearnedState;
use crate::planner::settings::PlanSettings;
use crate::simulate::scenarios::{Draw, NOT_BOOKED, Scenarios};
use crate::simulate::stock::Stock;

/// What the last plan was made of.
#[derive(Debug)]
pub(crate) struct PlanCache {
    pub snapshot: Arc<Snapshot>,
    pub settings: PlanSettings,
    pub seed: u64,
    pub learned: Arc<LearnedState>,
    pub stock: Stock,
    pub results: Vec<ProductResult>,
    /// Of how many products that held for it already.
    pub held: usize,
}

impl PlanCache {
    /// What was learned, where nothing that teaches is new.
    pub fn learned_of(&self, snapshot: &Snapshot) -> Option<Arc<LearnedState>> {
        let same = self.snapshot.day == snapshot.day && teach_the_same(&self.snapshot, snapshot);
        same.then(|| Arc::clone(&self.learned))
    }

    /// What was worked out of a product, where its futures, its shelf and what is to come of it are
    /// the same. Both plans learned the same.
    pub fn result_of(&self, stock: &Stock, product: usize) -> Option<ProductResult> {
        let (own, other) = (&self.stock, stock);
        let place_of = same_futures(&own.futures, &other.futures, product)?;
        let same = own.supplies == other.supplies
            && own.leads == other.leads
            && own.shelves[product] == other.shelves[product]
            && own.coming[product] == other.coming[product]
            && own.spare[product] == other.spare[product]
            && own.books_off[product] == other.books_off[product]
            && own.daily_use[product].to_bits() == other.daily_use[product].to_bits()
            && own.levels[product] == other.levels[product];
        if !same {
            return None;
        }
        let mut result = self.results[product].clone();
        for shortage in &mut result.projection.shortages {
            shortage.booked = place_of[shortage.booked];
        }
        Some(result)
    }
}

/// Whether two snapshots of one day differ in nothing but jobs of days to come.
fn teach_the_same(one: &Snapshot, other: &Snapshot) -> bool {
    same_but_for_jobs(&one.facts, &other.facts) && past_jobs(one).eq(past_jobs(other))
}

fn same_but_for_jobs(one: &Facts, other: &Facts) -> bool {
    let Facts {
        shop, products, ratios, suppliers, offers, job_types, usage_sheet, jobs: _, ..
    } = one;
    let Facts { pours, receipts, openings, discards, mixes, counts, orders, order_lines, .. } = one;
    *shop == other.shop
        && *products == other.products
        && *ratios == other.ratios
        && *suppliers == other.suppliers
        && *offers == other.offers
        && *job_types == other.job_types
        && *usage_sheet == other.usage_sheet
        && *pours == other.pours
        && *receipts == other.receipts
        && *openings == other.openings
        && *discards == other.discards
        && *mixes == other.mixes
        && *counts == other.counts
        && *orders == other.orders
        && *order_lines == other.order_lines
}

/// Jobs that teach something: all but those of days to come of which nothing was poured.
fn past_jobs(snapshot: &Snapshot) -> impl Iterator<Item = &Job> {
    let poured: HashSet<&Id> =
        snapshot.facts.pours.iter().filter_map(|pour| pour.job.as_ref()).collect();
    snapshot.facts.jobs.iter().filter(move |job| {
        job.status != JobStatus::Booked
            || job.planned_on <= snapshot.day
            || poured.contains(&job.id)
    })
}

/// Where all futures take the same of a product: for each booked job of the one its place in the
/// other (a place that is none where it is not in there).
fn same_futures(one: &Scenarios, other: &Scenarios, product: usize) -> Option<Vec<usize>> {
    if (one.count, one.days) != (other.count, other.days) {
        return None;
    }
    let places: HashMap<&Id, usize> =
        other.booked.iter().enumerate().map(|(place, job)| (&job.id, place)).collect();
    let place_of: Vec<usize> =
        one.booked.iter().map(|job| places.get(&job.id).copied().unwrap_or(usize::MAX)).collect();
    let moved = |draw: &Draw| match draw.booked {
        NOT_BOOKED => *draw,
        booked => {
            let place = place_of[booked as usize];
            Draw { booked: u32::try_from(place).unwrap_or(NOT_BOOKED), ..*draw }
        }
    };
    let same = (0..one.count).all(|future| {
        let (own, other) = (one.products[product].of(future), other.products[product].of(future));
        own.len() == other.len() && own.iter().zip(other).all(|(own, other)| moved(own) == *other)
    });
    same.then_some(place_of)
}
