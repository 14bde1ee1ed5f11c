//! Plans: made on threads of their own, one at a time, and kept for whoever asks next.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use capful_domain::{Job, Snapshot};
use capful_forecast::{Plan, Planner};
use chrono::{DateTime, TimeDelta, Utc};
use tokio::sync::OwnedMutexGuard;
use tracing::Instrument;
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Seed, WhichPlan};
use crate::problem::Problem;
use crate::view;

/// Plans that are kept.
const KEPT: usize = 8;

/// A plan of now is given again for so long, while nothing is written down.
const FRESH: TimeDelta = TimeDelta::seconds(60);

/// A plan and what it was made of.
struct Made {
    shop: Uuid,
    seed: u64,
    is_now: bool,
    snapshot: Arc<Snapshot>,
    plan: Arc<Plan>,
}

/// The last plans that were made.
#[derive(Default)]
pub(crate) struct Plans {
    made: Mutex<VecDeque<Made>>,
    /// What it keeps of the last plan makes the next one sooner.
    planner: Arc<Planner>,
    /// The planner takes every core: a second one at the same time makes both slower.
    making: Arc<tokio::sync::Mutex<()>>,
}

/// What a plan is asked of.
struct Wanted {
    shop: Uuid,
    seed: u64,
    is_now: bool,
    snapshot: Arc<Snapshot>,
}

impl Made {
    /// Whether this is what is wanted: made of the same rows, for the same moment or, of now, for
    /// one on the same day that has only just passed.
    fn is(&self, wanted: &Wanted) -> bool {
        let (own, other) = (&self.snapshot, &wanted.snapshot);
        let passed = |from: DateTime<Utc>, to: DateTime<Utc>| to - from;
        let age = passed(own.moment, other.moment);
        let fresh = wanted.is_now && self.is_now && own.day == other.day;
        let same_time =
            own.moment == other.moment || (fresh && age >= TimeDelta::zero() && age < FRESH);
        self.shop == wanted.shop
            && self.seed == wanted.seed
            && same_time
            && own.orders == other.orders
            && own.facts == other.facts
    }
}

impl Plans {
    fn find(&self, wanted: &Wanted) -> Option<Arc<Plan>> {
        let made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        made.iter().find(|made| made.is(wanted)).map(|made| Arc::clone(&made.plan))
    }

    fn keep(&self, wanted: Wanted, plan: &Arc<Plan>) {
        let Wanted { shop, seed, is_now, snapshot } = wanted;
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        made.push_front(Made { shop, seed, is_now, snapshot, plan: Arc::clone(plan) });
        made.truncate(KEPT);
    }
}

/// The plan of the caller's shop.
///
/// # Errors
/// [`Problem`] where the store does not answer or the planner fails.
pub(crate) async fn planned(
    api: &Api,
    caller: &Caller,
    which: WhichPlan,
) -> Result<Arc<Plan>, Problem> {
    let (as_of, Seed(seed)) = (which.as_of, which.seed.unwrap_or_default());
    let snapshot = Arc::new(view::snapshot(api, caller, as_of).await?);
    of(api, Wanted { shop: caller.shop, seed, is_now: as_of.is_none(), snapshot }).await
}

/// The plan that the caller's shop would have now, had it booked one more job.
///
/// # Errors
/// [`Problem`] where the store does not answer or the planner fails.
pub(crate) async fn planned_with(
    api: &Api,
    caller: &Caller,
    job: Job,
) -> Result<Arc<Plan>, Problem> {
    let Seed(seed) = Seed::default();
    let mut snapshot = view::snapshot(api, caller, None).await?;
    snapshot.facts.jobs.push(job);
    let snapshot = Arc::new(snapshot);
    of(api, Wanted { shop: caller.shop, seed, is_now: true, snapshot }).await
}

async fn of(api: &Api, wanted: Wanted) -> Result<Arc<Plan>, Problem> {
    if let Some(plan) = api.plans.find(&wanted) {
        api.metrics.plan_kept();
        return Ok(plan);
    }
    let alone = Arc::clone(&api.plans.making).lock_owned().await;
    if let Some(plan) = api.plans.find(&wanted) {
        api.metrics.plan_kept();
        return Ok(plan);
    }
    // Once begun, a plan is made to its end, also where the request for it ends early: the next one
    // is not made beside it, and whoever asks again gets this one. The request only waits for it.
    let made = tokio::spawn(make(api.clone(), wanted, alone).in_current_span());
    made.await.map_err(|error| Problem::internal(&error))?
}

/// Makes a plan and keeps it, while nobody else makes one.
async fn make(api: Api, wanted: Wanted, _alone: OwnedMutexGuard<()>) -> Result<Arc<Plan>, Problem> {
    let (began, settings) = (api.now(), api.settings.plan.clone());
    let planner = Arc::clone(&api.plans.planner);
    let made = tokio::task::spawn_blocking(move || {
        let plan = planner.plan(Arc::clone(&wanted.snapshot), &settings, wanted.seed);
        (wanted, Arc::new(plan))
    });
    let (wanted, plan) = made.await.map_err(|error| Problem::internal(&error))?;
    let took = (api.now() - began).num_microseconds().unwrap_or_default();
    api.metrics.plan_made(took as f64 / 1e6);
    api.plans.keep(wanted, &plan);
    Ok(plan)
}
