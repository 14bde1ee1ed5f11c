//! Going off: containers near their use-by, or that will not be finished before it.

use capful_domain::{Container, ContainerState};
use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::decide::product_result::ProductResult;
use crate::learn::booked_job::BookedJob;
use crate::learn::index::{base, float};
use crate::plan::GoingOff;
use crate::plan::text::{Shown, is_many, long_day, short_day};
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::shelf::{ahead, money};
use crate::simulate::stock::Stock;

/// An open container this near its use-by is named in any case.
const OPEN_DAYS_NEAR: i32 = 7;
/// A sealed one.
const SEALED_DAYS_NEAR: i32 = 21;
/// A container of which at least this share goes off on average is named.
const WASTE_SHARE: f64 = 0.1;
/// What is left is not worth a line below this share of a container and this much money.
const TINY_SHARE: f64 = 0.01;
const TINY_COST: f64 = 0.5;
/// Past this the thing to do is not to hurry, but to buy less.
const FAR_DAYS: i32 = 60;

/// Every container that goes off, the soonest first.
pub(crate) fn going_off(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    results: &[ProductResult],
) -> Vec<GoingOff> {
    let mut rows = Vec::new();
    for (product, shelf) in stock.shelves.iter().enumerate() {
        let past = shelf.past.iter().filter(|c| !was_refilled(inputs, c));
        for container in past.filter(|c| !is_tiny(inputs, c)) {
            rows.extend(row(inputs, stock, product, container, base(container.left)));
        }
        for (container, waste) in shelf.containers.iter().zip(&results[product].projection.waste_of)
        {
            // Where the books are too low more may go off; no more is named than they hold.
            let waste = waste.min(base(container.left));
            if is_near(inputs, product, container, waste) && !is_tiny(inputs, container) {
                rows.extend(row(inputs, stock, product, container, waste));
            }
        }
    }
    rows.sort_by(|a, b| (a.use_by, &a.container).cmp(&(b.use_by, &b.container)));
    rows
}

fn use_by(inputs: &ModelInputs<'_>, product: usize, container: &Container) -> Option<NaiveDate> {
    container.use_by(&inputs.snapshot.facts.products[product])
}

/// Whether a later mix of the same kind was made: the bottle was emptied and filled again.
fn was_refilled(inputs: &ModelInputs<'_>, old: &Container) -> bool {
    old.mix.is_some()
        && inputs.ledger.containers().iter().any(|new| {
            new.product == old.product && new.mix == old.mix && new.came_at > old.came_at
        })
}

/// Whether what is left is not worth a line.
fn is_tiny(inputs: &ModelInputs<'_>, container: &Container) -> bool {
    let cost = money(inputs.snapshot, container.value_of(container.left));
    base(container.left) < TINY_SHARE * base(container.size) && cost < TINY_COST
}

fn is_near(inputs: &ModelInputs<'_>, product: usize, container: &Container, waste: f64) -> bool {
    let Some(use_by) = use_by(inputs, product, container) else { return false };
    let days = ahead(use_by, inputs.snapshot.day);
    let near = match container.state() {
        ContainerState::Sealed => SEALED_DAYS_NEAR,
        _ => OPEN_DAYS_NEAR,
    };
    days <= near || waste >= WASTE_SHARE * base(container.left)
}

fn row(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    container: &Container,
    waste: f64,
) -> Option<GoingOff> {
    let use_by = use_by(inputs, product, container)?;
    let places = inputs.snapshot.facts.shop.currency.decimals();
    let size = base(container.size).max(1e-9);
    let unit_cost = container.lot.unit_cost.to_decimal(inputs.snapshot.facts.shop.currency);
    let mut cost =
        (unit_cost * Decimal::try_from(waste / size).unwrap_or_default()).round_dp(places);
    cost.rescale(places);
    let sealed = container.state() == ContainerState::Sealed;
    Some(GoingOff {
        container: container.id.to_string(),
        product: inputs.index.products[product].id.to_string(),
        lot: container.lot.name().to_owned(),
        state: if sealed { "sealed" } else { "open" },
        water: container.mix.map(|ratio| float(ratio.water())),
        left: stock.amount(inputs.index, product, base(container.left)),
        use_by,
        days_left: (use_by - inputs.snapshot.day).num_days(),
        expected_waste: stock.amount(inputs.index, product, waste),
        waste_cost: cost,
        advice: advice(inputs, stock, product, container, waste, use_by),
    })
}

fn advice(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    product: usize,
    container: &Container,
    waste: f64,
    use_by: NaiveDate,
) -> String {
    let today = inputs.snapshot.day;
    if use_by < today {
        return format!(
            "Past its use-by since {}: do not use it. Throw it away as its safety data sheet and \
             local rules say, and write that down.",
            short_day(use_by, today)
        );
    }
    let own = &inputs.index.products[product];
    let left = base(container.left);
    let units = inputs.snapshot.facts.shop.units;
    let shown = Shown::for_quantity(own.unit.dimension(), units, left);
    let days = ahead(use_by, today);
    let end = short_day(use_by, today);
    let less = match container.mix {
        Some(_) => "mix less next time",
        None => "buy a smaller size next time",
    };
    if days > FAR_DAYS {
        let less = match container.mix {
            Some(_) => "mix less next time",
            None => "buy less next time, or a smaller size",
        };
        return format!(
            "More is there than will be used by {end}: about {} of {} {}. Nothing is to be done \
             now; {less}.",
            shown.text(waste),
            shown.text(left),
            go(&shown.text(waste))
        );
    }
    let jobs = jobs_for(inputs, stock, product, container, days);
    let rest = if waste >= 0.02 * left {
        let unused = shown.text(waste);
        format!(" About {unused} of {} {} unused.", shown.text(left), go(&unused))
    } else {
        String::new()
    };
    let sealed = container.state() == ContainerState::Sealed;
    match jobs.first() {
        Some(job) => {
            let place = if sealed { "Open it next, for" } else { "Use it on" };
            let more = match jobs.len() {
                1 => String::new(),
                n => format!(" and {} more by {end}", n - 1),
            };
            let before = if sealed { "" } else { " before opening another" };
            format!("{place} {}{more}{before}.{rest}", name_of(inputs, job))
        }
        None if waste < 0.02 * left => {
            format!("No booked job takes it by {end}, but jobs that are likely will.{rest}")
        }
        None => {
            format!("No booked job takes it by {end}: offer a service that does, or {less}.{rest}")
        }
    }
}

/// "12 mL goes off", "3 pieces go off".
fn go(quantity: &str) -> &'static str {
    if is_many(quantity) { "go off" } else { "goes off" }
}

/// Booked jobs that can use the container before its end, by their day.
fn jobs_for<'s>(
    inputs: &ModelInputs<'_>,
    stock: &'s Stock,
    product: usize,
    container: &Container,
    days: i32,
) -> Vec<&'s BookedJob> {
    let takes = |job: &&BookedJob| {
        job.units.iter().any(|unit| {
            let pair = &inputs.index.pairs[unit.pair];
            pair.product == product && container.serves(pair.ratio)
        })
    };
    stock.futures.booked.iter().filter(|job| job.day <= days).filter(takes).collect()
}

/// "J-2041 on Thursday 5 March (one-step polish, large)".
fn name_of(inputs: &ModelInputs<'_>, job: &BookedJob) -> String {
    use capful_domain::Word;
    let facts = &inputs.snapshot.facts;
    let own = &facts.jobs[job.place];
    let names: Vec<&str> = facts
        .job_types
        .iter()
        .filter(|t| own.job_types.contains(&t.id))
        .map(|t| t.name.as_str())
        .collect();
    let day = if own.planned_on <= inputs.snapshot.day {
        "today".to_owned()
    } else {
        format!("on {}", long_day(own.planned_on))
    };
    format!("{} {day} ({}, {})", own.id, names.join(" + "), own.size.word())
}
