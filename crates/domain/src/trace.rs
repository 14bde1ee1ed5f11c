//! Trace: from a lot to every job and vehicle it went on, and back.

use std::collections::BTreeMap;

use crate::id::{ContainerId, Id};
use crate::ledger::{Ledger, MovementKind};
use crate::quantity::Quantity;
use crate::snapshot::Snapshot;

/// What of a lot went on one job.
#[derive(Debug, Clone, PartialEq)]
pub struct LotUse {
    /// The job.
    pub job: Id,
    /// Its vehicle, where one is written down.
    pub vehicle: Option<String>,
    /// Out of which container.
    pub container: ContainerId,
    /// How much, in ledger units of product as bought.
    pub quantity: Quantity,
}

/// Where one lot went.
#[derive(Debug, Clone, PartialEq)]
pub struct LotTrace {
    /// The maker's batch code, else the row that brought it.
    pub lot: String,
    /// Of what.
    pub product: Id,
    /// Its containers, mixes made from it among them.
    pub containers: Vec<ContainerId>,
    /// What is left of it, in ledger units.
    pub left: Quantity,
    /// The jobs it went on, in the order of the pours.
    pub uses: Vec<LotUse>,
}

/// What of one lot went on a job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobTrace {
    /// Of what.
    pub product: Id,
    /// The maker's batch code, else the row that brought it.
    pub lot: String,
    /// Out of which container.
    pub container: ContainerId,
    /// How much, in ledger units of product as bought.
    pub quantity: Quantity,
}

/// Every lot of this batch code, or brought by this row; one for each product.
#[must_use]
pub fn trace_lot(snapshot: &Snapshot, ledger: &Ledger, lot: &str) -> Vec<LotTrace> {
    let vehicles: BTreeMap<&Id, Option<&String>> =
        snapshot.facts.jobs.iter().map(|job| (&job.id, job.vehicle.as_ref())).collect();
    let mut traces: BTreeMap<&Id, LotTrace> = BTreeMap::new();
    let is_it = |name: &str, source: &Id| name == lot || source.as_str() == lot;
    for container in ledger.containers() {
        if !is_it(container.lot.name(), &container.lot.source) {
            continue;
        }
        let trace = traces.entry(&container.product).or_insert_with(|| LotTrace {
            lot: container.lot.name().to_owned(),
            product: container.product.clone(),
            containers: Vec::new(),
            left: Quantity::ZERO,
            uses: Vec::new(),
        });
        trace.containers.push(container.id.clone());
        trace.left += container.left;
    }
    for movement in ledger.standing().filter(|m| m.kind == MovementKind::Poured) {
        let Some(trace) = traces.get_mut(&movement.product) else { continue };
        let (Some(job), false) = (&movement.job, movement.change.is_zero()) else { continue };
        let own = ledger.container(&movement.container);
        if own.is_some_and(|c| is_it(c.lot.name(), &c.lot.source)) {
            trace.uses.push(LotUse {
                job: job.clone(),
                vehicle: vehicles.get(job).copied().flatten().cloned(),
                container: movement.container.clone(),
                quantity: -movement.change,
            });
        }
    }
    traces.into_values().collect()
}

/// Every lot that went on a job, in the order of the pours.
#[must_use]
pub fn trace_job(ledger: &Ledger, job: &Id) -> Vec<JobTrace> {
    let poured = ledger.standing().filter(|m| m.kind == MovementKind::Poured);
    poured
        .filter(|m| m.job.as_ref() == Some(job) && !m.change.is_zero())
        .filter_map(|m| {
            let container = ledger.container(&m.container)?;
            Some(JobTrace {
                product: m.product.clone(),
                lot: container.lot.name().to_owned(),
                container: m.container.clone(),
                quantity: -m.change,
            })
        })
        .collect()
}
