//! The usage that is shown: in a plan each pair at each size and grade 3, and at medium size at
//! each grade; elsewhere at the size and grade that are asked for.

use capful_domain::{Condition, VehicleSize, Word};

use crate::learn::index::{Index, UnitOfWork};
use crate::learn::observations::Observation;
use crate::learn::usage::UsageModel;
use crate::plan::UsageRow;
use crate::statistics::rounded;

/// z of nine in ten.
const Z90: f64 = 1.281_551_565_544_600_4;

/// All rows, pairs in the order of the sheet.
pub(crate) fn usage_rows(
    index: &Index,
    usage: &UsageModel,
    observations: &[Vec<Observation>],
) -> Vec<UsageRow> {
    let (seen, shapes) = (jobs_seen(index, observations), shapes());
    (0..index.pairs.len())
        .flat_map(|pair| {
            let jobs_seen = seen[pair];
            shapes.iter().map(move |shape| row(index, usage, pair, *shape, jobs_seen))
        })
        .collect()
}

/// A row for each pair at one size and condition.
pub(crate) fn rows_at(
    index: &Index,
    usage: &UsageModel,
    seen: &[u32],
    shape: (VehicleSize, Condition),
) -> Vec<UsageRow> {
    let pairs = seen.iter().enumerate();
    pairs.map(|(pair, jobs_seen)| row(index, usage, pair, shape, *jobs_seen)).collect()
}

/// Done jobs that the estimate of each pair rests on.
pub(crate) fn jobs_seen(index: &Index, observations: &[Vec<Observation>]) -> Vec<u32> {
    let mut seen = vec![0.0; index.pairs.len()];
    for part in observations.iter().flatten().flat_map(|o| &o.parts) {
        seen[part.unit.pair] += if part.half { 0.5 } else { 1.0 };
    }
    seen.into_iter().map(|jobs: f64| jobs as u32).collect()
}

fn shapes() -> Vec<(VehicleSize, Condition)> {
    let sizes = VehicleSize::ALL.into_iter().map(|size| (size, Condition::REFERENCE));
    let grades = Condition::all().filter(|grade| *grade != Condition::REFERENCE);
    sizes.chain(grades.map(|grade| (VehicleSize::Medium, grade))).collect()
}

fn row(
    index: &Index,
    usage: &UsageModel,
    pair: usize,
    (size, condition): (VehicleSize, Condition),
    jobs_seen: u32,
) -> UsageRow {
    let unit = UnitOfWork {
        pair,
        ln_size: index.ln_size[size.index()],
        ln_condition: index.ln_condition[condition.index()],
    };
    let own = &index.pairs[pair];
    let product = &index.products[own.product];
    let shown = |base: f64| rounded(base / product.unit_base, 4);
    let mean = usage.mean(index, &unit);
    let doubt = Z90 * usage.log_sd(index, &unit);
    let factor = (unit.ln_size + unit.ln_condition).exp();
    let sheet = if own.on_sheet { own.centre * own.share * factor } else { 0.0 };
    UsageRow {
        job_type: index.job_types[own.job_type].to_string(),
        product: product.id.to_string(),
        size: size.word(),
        condition: condition.grade(),
        mean: shown(mean),
        sd: shown(usage.sd(index, &unit)),
        mean_p10: shown(mean * (-doubt).exp()),
        mean_p90: shown(mean * doubt.exp()),
        share_of_jobs: rounded(usage.share(index, &unit), 4),
        sheet: shown(sheet),
        jobs_seen,
    }
}
