//! What jobs cost in product, and what was thrown away: sums over the ledger, at the unit cost of
//! the lots that it came from.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};

use crate::container::Container;
use crate::facts::DiscardReason;
use crate::id::{ContainerId, Id};
use crate::job::JobStatus;
use crate::ledger::{Ledger, Movement, MovementKind, Source};
use crate::money::Money;
use crate::quantity::Quantity;
use crate::snapshot::Snapshot;

/// What one job took out of one container.
#[derive(Debug, Clone, PartialEq)]
pub struct JobLine {
    /// Of what.
    pub product: Id,
    /// Out of which container.
    pub container: ContainerId,
    /// How much, in ledger units of product as bought.
    pub quantity: Quantity,
    /// What that cost.
    pub cost: Money,
    /// Whether it was deducted as expected, and not measured.
    pub expected: bool,
}

/// What one job cost in product.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JobCost {
    /// A line for each container, in the order of the pours.
    pub lines: Vec<JobLine>,
    /// The sum of the lines.
    pub total: Money,
}

/// What the done jobs of one job type cost in product.
#[derive(Debug, Clone, PartialEq)]
pub struct JobTypeCost {
    /// Which.
    pub job_type: Id,
    /// Done jobs that had it.
    pub jobs: u32,
    /// Their cost in product; of a job with several types, each product's cost is shared out in
    /// proportion to what the usage sheet says of them.
    pub total: Money,
    /// The same for one job, to the nearest minor unit.
    pub mean: Money,
}

/// What was thrown away of one product in one month.
#[derive(Debug, Clone, PartialEq)]
pub struct Waste {
    /// The month's first day, in the shop's zone.
    pub month: NaiveDate,
    /// Of what.
    pub product: Id,
    /// How much, in ledger units.
    pub quantity: Quantity,
    /// What that cost.
    pub cost: Money,
}

/// What one job took and what that cost; nothing, where nothing was poured for it.
#[must_use]
pub fn job_cost(ledger: &Ledger, job: &Id) -> JobCost {
    let mut cost = JobCost::default();
    for movement in ledger.standing().filter(|m| m.job.as_ref() == Some(job)) {
        cost.extend(ledger, movement);
    }
    cost
}

impl JobCost {
    fn extend(&mut self, ledger: &Ledger, movement: &Movement) {
        if movement.kind != MovementKind::Poured || movement.change.is_zero() {
            return;
        }
        let quantity = -movement.change;
        let cost = worth(ledger.container(&movement.container), quantity);
        self.total += cost;
        self.lines.push(JobLine {
            product: movement.product.clone(),
            container: movement.container.clone(),
            quantity,
            cost,
            expected: matches!(movement.source, Source::Expected(_)),
        });
    }
}

fn worth(container: Option<&Container>, quantity: Quantity) -> Money {
    container.map_or(Money::ZERO, |container| container.value_of(quantity))
}

/// What each job type costs, in the order of the shop's list; types without a done job are left
/// out.
#[must_use]
pub fn job_type_costs(snapshot: &Snapshot, ledger: &Ledger) -> Vec<JobTypeCost> {
    let mut by_job: BTreeMap<&Id, JobCost> = BTreeMap::new();
    for movement in ledger.standing() {
        if let Some(job) = &movement.job {
            by_job.entry(job).or_default().extend(ledger, movement);
        }
    }
    let sheet = sheet_quantities(snapshot);
    let mut sums: BTreeMap<&Id, (u32, Money)> = BTreeMap::new();
    for job in snapshot.facts.jobs.iter().filter(|job| job.status == JobStatus::Done) {
        for job_type in &job.job_types {
            sums.entry(job_type).or_default().0 += 1;
        }
        for line in by_job.get(&job.id).into_iter().flat_map(|cost| &cost.lines) {
            let said = |t: &Id| sheet.get(&(t, &line.product)).map_or(0, |q| q.ledger_units());
            let all: i64 = job.job_types.iter().map(said).sum();
            let count = i64::try_from(job.job_types.len()).unwrap_or(1);
            for job_type in &job.job_types {
                let (part, whole) = if all > 0 { (said(job_type), all) } else { (1, count) };
                sums.entry(job_type).or_default().1 += line.cost.share(part, whole);
            }
        }
    }
    let types = snapshot.facts.job_types.iter().map(|t| &t.id);
    types
        .filter_map(|id| sums.get(id).map(|(jobs, total)| (id, *jobs, *total)))
        .map(|(id, jobs, total)| JobTypeCost {
            job_type: id.clone(),
            jobs,
            total,
            mean: total.share(1, jobs.max(1).into()),
        })
        .collect()
}

fn sheet_quantities(snapshot: &Snapshot) -> BTreeMap<(&Id, &Id), Quantity> {
    let products: BTreeMap<&Id, &crate::catalog::Product> =
        snapshot.facts.products.iter().map(|product| (&product.id, product)).collect();
    let mut quantities = BTreeMap::new();
    for row in &snapshot.facts.usage_sheet {
        let quantity = products.get(&row.product).and_then(|p| row.quantity(p).ok());
        *quantities.entry((&row.job_type, &row.product)).or_insert(Quantity::ZERO) +=
            quantity.unwrap_or_default();
    }
    quantities
}

/// What was thrown away in one month for one reason.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WasteReason {
    /// The month's first day, in the shop's zone.
    pub month: NaiveDate,
    /// Why, where somebody said so.
    pub reason: Option<DiscardReason>,
    /// What that cost.
    pub cost: Money,
}

/// What was thrown away, by month and reason.
#[must_use]
pub fn waste_by_reason(snapshot: &Snapshot, ledger: &Ledger) -> Vec<WasteReason> {
    let discards = snapshot.facts.discards.iter();
    let reasons: BTreeMap<&Id, Option<DiscardReason>> =
        discards.map(|discard| (&discard.id, discard.reason)).collect();
    let mut sums: Vec<WasteReason> = Vec::new();
    for movement in ledger.standing().filter(|m| m.kind == MovementKind::Discarded) {
        let month = month_of(snapshot, movement);
        let reason = reasons.get(movement.source.id()).copied().flatten();
        let cost = worth(ledger.container(&movement.container), -movement.change);
        match sums.iter_mut().find(|sum| sum.month == month && sum.reason == reason) {
            Some(sum) => sum.cost += cost,
            None => sums.push(WasteReason { month, reason, cost }),
        }
    }
    sums
}

fn month_of(snapshot: &Snapshot, movement: &Movement) -> NaiveDate {
    let day = snapshot.facts.shop.day_of(movement.at);
    day.with_day(1).unwrap_or(day)
}

/// What was thrown away, by month and product. What was sent back to a supplier is not waste.
#[must_use]
pub fn waste_by_month(snapshot: &Snapshot, ledger: &Ledger) -> Vec<Waste> {
    let mut sums: BTreeMap<(NaiveDate, &Id), (Quantity, Money)> = BTreeMap::new();
    for movement in ledger.standing().filter(|m| m.kind == MovementKind::Discarded) {
        let month = month_of(snapshot, movement);
        let quantity = -movement.change;
        let sum = sums.entry((month, &movement.product)).or_default();
        sum.0 += quantity;
        sum.1 += worth(ledger.container(&movement.container), quantity);
    }
    sums.into_iter()
        .filter(|(_, (quantity, _))| !quantity.is_zero())
        .map(|((month, product), (quantity, cost))| Waste {
            month,
            product: product.clone(),
            quantity,
            cost,
        })
        .collect()
}
