//! What the pages of the shelf read: the books as they stand, and what wants a count.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use capful_domain::{
    AsOf, Container, ContainerState, Id, Job, JobStatus, Ledger, Product, Quantity, Shop, Snapshot,
};
use capful_forecast::Plan;
use chrono::NaiveDate;

use crate::api::Api;
use crate::known::known;
use crate::pages::frame::{Measures, day_name};
use crate::pages::names;
use crate::pages::say::words;
use crate::pages::visitor::Visitor;
use crate::params::WhichPlan;
use crate::plans;
use crate::problem::Problem;
use crate::view;

/// The warnings of a plan that a count answers.
const WANT_A_COUNT: [&str; 2] = ["books-short", "count-due"];

/// A shop's books as they stand.
pub(in crate::pages) struct Books {
    pub snapshot: Snapshot,
    pub ledger: Ledger,
    pub measures: Measures,
}

impl Books {
    /// As they stand now.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(in crate::pages) async fn now(api: &Api, visitor: &Visitor) -> Result<Self, Problem> {
        let (snapshot, ledger) = view::books(api, &visitor.caller, None).await?;
        let measures = Measures::of(&snapshot.facts.shop);
        Ok(Self { snapshot, ledger, measures })
    }

    pub(super) const fn shop(&self) -> &Shop {
        &self.snapshot.facts.shop
    }

    pub(super) const fn day(&self) -> NaiveDate {
        self.snapshot.day
    }

    /// A product.
    ///
    /// # Errors
    /// [`Problem`] where there is none of that id.
    pub(in crate::pages) fn product(&self, id: &str) -> Result<&Product, Problem> {
        let own = self.snapshot.facts.products.iter().find(|own| own.id.as_str() == id);
        own.ok_or_else(|| Problem::not_found("product", id))
    }

    /// What is left of a product.
    pub(super) fn left(&self, product: &Product) -> Quantity {
        self.ledger.left_of(&product.id)
    }

    /// What of a product is good, and what is past its use-by.
    pub(super) fn good_and_past(&self, product: &Product) -> (Quantity, Quantity) {
        let is_past = |own: &&Container| own.is_past(product, self.day());
        let live = self.live(product);
        let past = live.iter().copied().filter(is_past).map(|own| own.left).sum();
        (self.left(product) - past, past)
    }

    /// Containers with something in them: open ones first, then in the order they are poured.
    pub(super) fn live(&self, product: &Product) -> Vec<&Container> {
        let mut live = self.ledger.live_containers(&product.id, self.day());
        live.sort_by_key(|container| container.state());
        live
    }

    /// What is left of a product in containers that are not past their use-by.
    pub(in crate::pages) fn usable(&self, product: &Product) -> Quantity {
        let good = |container: &&&Container| !container.is_past(product, self.day());
        self.live(product).iter().filter(good).map(|own| own.left).sum()
    }

    /// The containers of a product that are open.
    pub(super) fn open(&self, product: &Product) -> Vec<&Container> {
        let mut live = self.live(product);
        live.retain(|container| container.state() == ContainerState::Open);
        live
    }

    /// Those that are sealed.
    pub(super) fn sealed(&self, product: &Product) -> Vec<&Container> {
        let mut live = self.live(product);
        live.retain(|container| container.state() == ContainerState::Sealed);
        live
    }

    /// A job's vehicle, else its id.
    pub(super) fn job_name(&self, id: &Id) -> String {
        let job = self.snapshot.facts.jobs.iter().find(|job| job.id == *id);
        job.map_or_else(|| id.to_string(), names::job_name)
    }

    /// The jobs that something is likely poured for: those in the bay, those of today, and those
    /// that ended today.
    pub(super) fn jobs_of_today(&self) -> Vec<&Job> {
        let (shop, day) = (self.shop(), self.day());
        let is_of_today = |job: &&Job| match job.status {
            JobStatus::Started => true,
            JobStatus::Booked => job.planned_on <= day,
            JobStatus::Done => shop.day_of(job.ended_at(shop)) == day,
            JobStatus::Cancelled => false,
        };
        let mut jobs: Vec<&Job> = self.snapshot.facts.jobs.iter().filter(is_of_today).collect();
        let turn = |job: &&Job| match job.status {
            JobStatus::Started => 0,
            JobStatus::Booked => 1,
            JobStatus::Done | JobStatus::Cancelled => 2,
        };
        jobs.sort_by_key(|job| (turn(job), job.planned_on, job.booked_at));
        jobs
    }

    /// The products that were counted today.
    pub(super) fn counted_today(&self) -> BTreeSet<&Id> {
        let counts = self.snapshot.facts.counts.iter();
        let today = counts.filter(|count| self.shop().day_of(count.at) == self.day());
        today.map(|count| &count.product).collect()
    }

    /// When each product was last counted.
    pub(super) fn last_counted(&self) -> BTreeMap<&Id, NaiveDate> {
        let mut last = BTreeMap::new();
        for count in &self.snapshot.facts.counts {
            let day = self.shop().day_of(count.at);
            let known = last.entry(&count.product).or_insert(day);
            *known = day.max(*known);
        }
        last
    }

    /// The products that want a count, each with why: more was taken than the books held, or the
    /// plan of this morning hangs on it.
    pub(super) fn want_a_count(&self, morning: &Plan) -> BTreeMap<String, String> {
        let mut why = BTreeMap::new();
        let counted = self.counted_today();
        let is_counted = |id: &str| counted.iter().any(|own| own.as_str() == id);
        for warning in &morning.warnings {
            let product = warning.product.as_ref().filter(|id| !is_counted(id));
            if let Some(id) = product.filter(|_| WANT_A_COUNT.contains(&warning.code)) {
                why.insert(id.clone(), warning.text.clone());
            }
        }
        for (id, found) in self.ledger.found_stock().iter().filter(|(_, found)| found.measured) {
            let Ok(product) = self.product(id.as_str()) else { continue };
            let day = day_name(self.shop().day_of(found.at), self.day());
            let surplus = self.measures.quantity(found.surplus, product);
            let text = words().say("shelf-found").with("amount", surplus).with("day", day);
            why.insert(id.to_string(), text.to_string());
        }
        why
    }
}

/// The plan as the day began. It stays the same while people pour and count, so that a list does
/// not change under their hands and nobody waits for another plan with each bottle.
///
/// # Errors
/// [`Problem`] where the store does not answer or the planner fails.
pub(in crate::pages) async fn morning(api: &Api, visitor: &Visitor) -> Result<Arc<Plan>, Problem> {
    let day = known(api, &visitor.caller).await?.shop.day_of(api.now());
    let which = WhichPlan { as_of: Some(AsOf::Day(day)), seed: None };
    plans::planned(api, &visitor.caller, which).await
}
