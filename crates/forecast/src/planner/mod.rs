//! From a snapshot to a plan.

mod learned_state;
mod plan_cache;
pub(crate) mod settings;

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use capful_domain::Snapshot;

use crate::decide::product_result::{ProductResult, product_results};
use crate::decide::warnings::Grounds;
use crate::learn::arrivals::Arrivals;
use crate::learn::given_usage::GivenUsage;
use crate::learn::lead_time::LeadTime;
use crate::learn::learned_model::LearnedModel;
use crate::plan::Plan;
use crate::planner::learned_state::LearnedState;
use crate::planner::plan_cache::PlanCache;
use crate::planner::settings::PlanSettings;
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::stock::Stock;

/// Everything advised at the snapshot's moment. Pure: the same input gives the same plan, on any
/// number of cores.
#[must_use]
pub fn plan(snapshot: &Snapshot, settings: &PlanSettings, seed: u64) -> Plan {
    let learned = LearnedState::of(snapshot, LearnedModel::of(snapshot));
    let (plan, ..) = advised(snapshot, &learned, settings, seed, None);
    plan
}

/// The same of a shop that is told what its jobs take, and has nothing to learn of it: what the
/// plans of shops that have to learn are held against.
#[must_use]
pub fn plan_given_usage(
    snapshot: &Snapshot,
    settings: &PlanSettings,
    seed: u64,
    told: &[GivenUsage],
) -> Plan {
    let learned = LearnedState::of(snapshot, LearnedModel::told(snapshot, told));
    let (plan, ..) = advised(snapshot, &learned, settings, seed, None);
    plan
}

/// A planner that keeps what its last plan was made of, and makes the next one sooner where little
/// changed: [`plan`] gives the same, byte for byte.
#[derive(Debug, Default)]
pub struct Planner {
    last: Mutex<Option<PlanCache>>,
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
        let learned = learned
            .unwrap_or_else(|| Arc::new(LearnedState::of(&snapshot, LearnedModel::of(&snapshot))));
        let (plan, stock, results, held) =
            advised(&snapshot, &learned, settings, seed, last.as_ref());
        let settings = settings.clone();
        *kept = Some(PlanCache { snapshot, settings, seed, learned, stock, results, held });
        plan
    }

    /// Of how many products the last plan took over what was worked out for the one before.
    #[must_use]
    pub fn held(&self) -> usize {
        let last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        last.as_ref().map_or(0, |last| last.held)
    }
}

fn advised(
    snapshot: &Snapshot,
    learned: &LearnedState,
    settings: &PlanSettings,
    seed: u64,
    last: Option<&PlanCache>,
) -> (Plan, Stock, Vec<ProductResult>, usize) {
    let LearnedState { lessons, ledger, uncertainties } = learned;
    let (index, usage) = (&lessons.index, &lessons.usage);
    let arrivals = Arrivals::learn(snapshot, index, &lessons.gaps, seed);
    let suppliers = &snapshot.facts.suppliers;
    let leads = suppliers.iter().map(|s| LeadTime::learn(snapshot, s)).collect();
    let inputs = ModelInputs {
        snapshot,
        index,
        usage,
        tells_openings: &lessons.tells_openings,
        ledger,
        arrivals: &arrivals,
        seed,
    };
    let futures = settings.futures.clamp(50, 20_000) as usize;
    let stock = Stock::of(&inputs, leads, uncertainties, futures);
    let held = AtomicUsize::new(0);
    let holds = |product| {
        let result = last?.result_of(&stock, product)?;
        held.fetch_add(1, Ordering::Relaxed);
        Some(result)
    };
    let results = product_results(&inputs, &stock, holds);
    let grounds = Grounds {
        inputs: &inputs,
        stock: &stock,
        uncertainties,
        observations: &lessons.observations,
        gaps: &lessons.gaps,
    };
    let plan = Plan {
        shop: snapshot.facts.shop.name.clone(),
        as_of: snapshot.day,
        seed,
        currency: snapshot.facts.shop.currency.code().to_owned(),
        weekly_order: crate::decide::weekly_order::weekly_order(&inputs, &stock, &results),
        products: results.iter().map(|own| own.outlook.clone()).collect(),
        going_off: crate::decide::going_off::going_off(&inputs, &stock, &results),
        readiness: crate::decide::readiness::readiness(&inputs, &stock, &results),
        usage: crate::learn::usage_rows::usage_rows(index, usage, &lessons.observations),
        warnings: crate::decide::warnings::warnings(&grounds),
    };
    (plan, stock, results, held.into_inner())
}
