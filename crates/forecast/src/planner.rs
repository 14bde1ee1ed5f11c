//! From a snapshot to a plan.

use capful_domain::Snapshot;
use rust_decimal::Decimal;

use crate::plan::{Plan, WeeklyOrder};

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

/// Everything advised at the snapshot's moment. Pure: the same input gives the same plan, on any
/// number of cores.
#[must_use]
pub fn plan(snapshot: &Snapshot, _settings: &PlanSettings, seed: u64) -> Plan {
    Plan {
        shop: snapshot.facts.shop.name.clone(),
        as_of: snapshot.day,
        seed,
        currency: snapshot.facts.shop.currency.code().to_owned(),
        weekly_order: WeeklyOrder { orders: vec![], total: Decimal::ZERO, waiting: vec![] },
        products: vec![],
        going_off: vec![],
        readiness: vec![],
        usage: vec![],
        warnings: vec![],
    }
}
