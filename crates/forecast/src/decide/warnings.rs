//! What the reader should know before relying on the plan.

use std::collections::BTreeMap;

use capful_domain::{FoundStock, Id, Snapshot};

use crate::learn::arrivals::Arrivals;
use crate::learn::history::Gap;
use crate::learn::index::base;
use crate::learn::observations::Observation;
use crate::plan::Warning;
use crate::plan::text::{Shown, counted, short_day};
use crate::simulate::scenarios::{BELIEVED_LATE_DAYS, ModelInputs};
use crate::simulate::stock::Stock;
use crate::simulate::stock_uncertainty::StockUncertainty;

/// What the warnings are made from.
pub(crate) struct Grounds<'a> {
    pub inputs: &'a ModelInputs<'a>,
    pub stock: &'a Stock,
    pub uncertainties: &'a [StockUncertainty],
    pub observations: &'a [Vec<Observation>],
    pub gaps: &'a [Gap],
}

/// Open days below which the plan says how little it knows.
const LITTLE_HISTORY_DAYS: u32 = 30;
/// Overdue jobs that are named one by one.
const MOST_OVERDUE: usize = 100;
/// Odd observations older than this are of no use to the reader.
const RECENT_DAYS: i64 = 60;

/// All warnings: the shop first, then product by product.
pub(crate) fn warnings(grounds: &Grounds<'_>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    history(grounds.inputs.arrivals, grounds.inputs.snapshot, &mut warnings);
    gaps(grounds, &mut warnings);
    warnings.extend(grounds.stock.futures.left_out.warnings(grounds.inputs.snapshot));
    late_jobs(grounds, &mut warnings);
    late_orders(grounds, &mut warnings);
    let found = grounds.inputs.ledger.found_stock();
    for product in 0..grounds.inputs.index.products.len() {
        no_offer(grounds, product, &mut warnings);
        count_due(grounds, &found, product, &mut warnings);
        odd(grounds, product, &mut warnings);
    }
    warnings
}

fn of_shop(code: &'static str, text: String) -> Warning {
    Warning { code, product: None, text }
}

fn history(arrivals: &Arrivals, snapshot: &Snapshot, warnings: &mut Vec<Warning>) {
    let week = arrivals.visits_a_week(snapshot);
    if arrivals.visits_seen == 0 {
        warnings.push(of_shop(
            "no-history",
            format!(
                "No past job is written down yet: what jobs take is the usage sheet's word, and \
                 about {week:.0} visits a week are a guess. Every chance here is rough."
            ),
        ));
    } else if arrivals.days_seen < LITTLE_HISTORY_DAYS {
        let days = counted(arrivals.days_seen as usize, "open day", "open days");
        let visits = counted(arrivals.visits_seen as usize, "visit", "visits");
        warnings.push(of_shop(
            "little-history",
            format!(
                "Only {days} with {visits} are inputs: usage leans on the sheet, and about \
                 {week:.0} visits a week on a guess. The bands are wide for that."
            ),
        ));
    }
}

fn gaps(grounds: &Grounds<'_>, warnings: &mut Vec<Warning>) {
    let today = grounds.inputs.snapshot.day;
    for gap in grounds.gaps {
        let (from, to) = (short_day(gap.from, today), short_day(gap.to, today));
        warnings.push(of_shop(
            "history-gap",
            format!(
                "No visit is written down from {from} to {to}. That stretch is left out: it says \
                 neither that no jobs come nor what jobs took."
            ),
        ));
    }
}

fn late_jobs(grounds: &Grounds<'_>, warnings: &mut Vec<Warning>) {
    let snapshot = grounds.inputs.snapshot;
    let late: Vec<&capful_domain::Job> = snapshot
        .facts
        .jobs
        .iter()
        .filter(|job| job.status == capful_domain::JobStatus::Booked)
        .filter(|job| job.planned_on < snapshot.day)
        .collect();
    for job in late.iter().take(MOST_OVERDUE) {
        let days = (snapshot.day - job.planned_on).num_days();
        let taken = if days > BELIEVED_LATE_DAYS {
            "it is left out of the plan"
        } else {
            "the plan takes it to come today, or not, with equal chance"
        };
        warnings.push(of_shop(
            "job-overdue",
            format!(
                "Job {} was planned for {} and is still booked: {taken}. Finish it, move it or \
                 cancel it.",
                job.id,
                short_day(job.planned_on, snapshot.day)
            ),
        ));
    }
    let more = late.len().saturating_sub(MOST_OVERDUE);
    if more > 0 {
        let text = format!(
            "{} still booked for days gone by. Finish them, move them or cancel them.",
            counted(more, "more job is", "more jobs are")
        );
        warnings.push(of_shop("job-overdue", text));
    }
}

fn late_orders(grounds: &Grounds<'_>, warnings: &mut Vec<Warning>) {
    let snapshot = grounds.inputs.snapshot;
    for delivery in &snapshot.orders.deliveries {
        let Some(lead) = grounds.stock.leads.iter().find(|l| l.supplier == delivery.supplier)
        else {
            continue;
        };
        let open = snapshot.orders.outstanding.iter().any(|line| line.order == delivery.order);
        let placed = snapshot.facts.shop.day_of(delivery.placed_at);
        let age = (snapshot.day - placed).num_days() as f64;
        if !open || delivery.first_receipt_at.is_some() || age <= lead.quantile(0.95) {
            continue;
        }
        let on = short_day(placed, snapshot.day);
        let text = if lead.lost.contains(&delivery.order) {
            format!(
                "Order {} with {} of {on} never came: the plan no longer counts on it. Receive or \
                 cancel it.",
                delivery.order, delivery.supplier
            )
        } else {
            format!(
                "Order {} with {} of {on} is late: nineteen of twenty come within {:.0} days. Ask \
                 after it.",
                delivery.order,
                delivery.supplier,
                lead.quantile(0.95)
            )
        };
        warnings.push(of_shop("order-late", text));
    }
}

fn about(grounds: &Grounds<'_>, product: usize, code: &'static str, text: String) -> Warning {
    let id = grounds.inputs.index.products[product].id.to_string();
    Warning { code, product: Some(id), text }
}

fn shown(grounds: &Grounds<'_>, product: usize, largest: f64) -> Shown {
    let units = grounds.inputs.snapshot.facts.shop.units;
    let unit = grounds.inputs.index.products[product].unit;
    Shown::for_quantity(unit.dimension(), units, largest)
}

fn no_offer(grounds: &Grounds<'_>, product: usize, warnings: &mut Vec<Warning>) {
    let shelf = &grounds.stock.shelves[product];
    let level = grounds.stock.levels[product].reorder_point;
    let bought = grounds.stock.supplier_of[product].is_some();
    if !bought && level > 0.0 && shelf.on_hand + shelf.on_order < level {
        let shown = shown(grounds, product, level);
        let text = format!(
            "{} is running low ({} left, jobs may take {} in the next weeks) and no supplier \
             offers it: add an offer.",
            grounds.inputs.index.products[product].name,
            shown.text(shelf.on_hand),
            shown.text(level)
        );
        warnings.push(about(grounds, product, "no-offer", text));
    }
}

fn count_due(
    grounds: &Grounds<'_>,
    found: &BTreeMap<Id, FoundStock>,
    product: usize,
    warnings: &mut Vec<Warning>,
) {
    let snapshot = grounds.inputs.snapshot;
    let shelf = &grounds.stock.shelves[product];
    let uncertainty = &grounds.uncertainties[product];
    let name = &grounds.inputs.index.products[product].name;
    let surplus = found.get(&grounds.inputs.index.products[product].id);
    if let Some(found) = surplus.filter(|found| found.measured || found.surplus.ledger_units() > 0)
        && (found.measured
            || base(found.surplus) > 0.5 * grounds.inputs.index.products[product].size)
    {
        let shown = shown(grounds, product, base(found.surplus).max(shelf.on_hand));
        let text = format!(
            "{name}: the books ran out {} before the shelf did, last on {}. Count it.",
            shown.text(base(found.surplus)),
            short_day(snapshot.facts.shop.day_of(found.at), snapshot.day)
        );
        warnings.push(about(grounds, product, "books-short", text));
        return;
    }
    let level = grounds.stock.levels[product].reorder_point;
    let position = shelf.on_hand + shelf.on_order;
    if uncertainty.jobs == 0 || level <= 0.0 || uncertainty.sd < 0.05 * level {
        return;
    }
    if (position - level).abs() < uncertainty.sd {
        let shown = shown(grounds, product, level.max(shelf.on_hand));
        let since = uncertainty.seen_at.map_or_else(
            || "it was never counted".to_owned(),
            |at| {
                let day = snapshot.facts.shop.day_of(at);
                format!("it was last seen on {}", short_day(day, snapshot.day))
            },
        );
        let text = format!(
            "{name}: count it before you order. The books say {}, give or take {}, as {since}; \
             that decides whether to order.",
            shown.text(shelf.on_hand),
            shown.text(uncertainty.sd)
        );
        warnings.push(about(grounds, product, "count-due", text));
    }
}

fn odd(grounds: &Grounds<'_>, product: usize, warnings: &mut Vec<Warning>) {
    let snapshot = grounds.inputs.snapshot;
    let shop = &snapshot.facts.shop;
    for (place, sds) in &grounds.inputs.usage.products[product].odd {
        let seen = &grounds.observations[product][*place];
        let to = shop.day_of(seen.to);
        if (snapshot.day - to).num_days() > RECENT_DAYS {
            continue;
        }
        let name = &grounds.inputs.index.products[product].name;
        let expected: f64 = seen
            .parts
            .iter()
            .map(|p| grounds.inputs.usage.mean(grounds.inputs.index, &p.unit))
            .sum();
        let shown = shown(grounds, product, seen.seen.max(expected));
        let (went, jobs) = (shown.text(seen.seen), shown.text(expected));
        let when = if seen.measured {
            format!("on {}", short_day(to, snapshot.day))
        } else {
            let from = shop.day_of(seen.from);
            format!("from {} to {}", short_day(from, snapshot.day), short_day(to, snapshot.day))
        };
        let why = if *sds > 0.0 { "a spill, or a slip in writing" } else { "a slip in writing" };
        let text = format!(
            "{name}: {when} {went} went where jobs take about {jobs} ({why}?). It hardly counts \
             in what is learned."
        );
        warnings.push(about(grounds, product, "odd-record", text));
    }
}
