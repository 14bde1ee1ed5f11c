//! How far the books may be off: since a product's level was last seen, jobs were deducted at their
//! expected usage, and that is known only so well.

use capful_domain::{Ledger, Quantity, Snapshot};
use chrono::{DateTime, Utc};
use rand_distr::{Distribution, StandardNormal};

use crate::learn::history::JobUse;
use crate::learn::index::{Index, float};
use crate::learn::random::{Purpose, number_of, stream};
use crate::learn::usage::UsageModel;
use crate::simulate::scenarios::{DrawnEffects, ModelInputs};

/// What is not known of one product's level on the shelf.
#[derive(Debug, Clone, Default)]
pub(crate) struct StockUncertainty {
    /// When its level was last seen; `None`: never.
    pub seen_at: Option<DateTime<Utc>>,
    /// What the expected usage since then would change by with each effect, base units.
    slope: Vec<f64>,
    /// Variance of what is not in the effects: jobs differ, and the level was seen only so well.
    variance: f64,
    /// Standard deviation of it all.
    pub sd: f64,
    /// Jobs deducted as expected since.
    pub jobs: usize,
}

/// Share of its content by which an opened container may be off when it is called empty.
const OPENING_SD: f64 = 0.02;
/// Share of a container that may be there though the books are bare.
const BARE_SD: f64 = 0.05;

impl StockUncertainty {
    /// What is not known of each product's level.
    pub fn of(
        snapshot: &Snapshot,
        index: &Index,
        usage: &UsageModel,
        uses: &[Vec<JobUse>],
        ledger: &Ledger,
    ) -> Vec<Self> {
        let mut seen = last_seen(snapshot, index);
        note_bare(index, ledger, &mut seen);
        let products = uses.iter().zip(seen).enumerate();
        products
            .map(|(product, (uses, seen))| {
                let inputs = &usage.products[product];
                let since = uses
                    .iter()
                    .filter(|one| one.measured.is_none() && seen.is_none_or(|(at, _)| one.at > at));
                let mut uncertainty = Self {
                    seen_at: seen.map(|(at, _)| at),
                    slope: vec![0.0; inputs.b.len()],
                    variance: seen.map_or(0.0, |(_, sd)| sd * sd),
                    sd: 0.0,
                    jobs: 0,
                };
                for one in since {
                    uncertainty.jobs += 1;
                    for unit in &one.units {
                        let mean = usage.mean(index, unit);
                        uncertainty.variance += usage.sd(index, unit).powi(2);
                        for (place, x) in usage.effects(index, unit) {
                            uncertainty.slope[place] += mean * x;
                        }
                    }
                }
                let mut variance = uncertainty.variance;
                for (p, x) in uncertainty.slope.iter().enumerate().filter(|(_, x)| **x != 0.0) {
                    for (q, y) in uncertainty.slope.iter().enumerate() {
                        variance += x * y * inputs.covariance[[p, q]];
                    }
                }
                uncertainty.sd = variance.max(0.0).sqrt();
                uncertainty
            })
            .collect()
    }

    /// What is on the shelf beyond the books in each future; together with them never below
    /// nothing. Where a future's jobs take more than is thought, past jobs took more as well.
    pub fn draw(
        &self,
        inputs: &ModelInputs<'_>,
        product: usize,
        effects: &DrawnEffects,
        on_hand: f64,
    ) -> Vec<f64> {
        let b = &inputs.usage.products[product].b;
        let thing = number_of(inputs.index.products[product].id.as_str());
        let off = |(future, drawn): (usize, &[f64])| {
            let mut random = stream(inputs.seed, Purpose::Books, future, thing);
            let z: f64 = StandardNormal.sample(&mut random);
            let moved: f64 =
                self.slope.iter().zip(drawn.iter().zip(b)).map(|(s, (d, b))| s * (d - b)).sum();
            (self.variance.sqrt() * z - moved).clamp(-on_hand, on_hand)
        };
        effects.each().enumerate().map(off).collect()
    }
}

/// Where the books of a product were bare after its level was last seen, what was deducted before
/// says no more about what is there now.
fn note_bare(index: &Index, ledger: &Ledger, seen: &mut [Option<(DateTime<Utc>, f64)>]) {
    let mut left = vec![Quantity::ZERO; index.products.len()];
    for movement in ledger.movements() {
        let Some(product) = index.product_place(&movement.product) else { continue };
        let was_bare = left[product].is_zero();
        left[product] += movement.change;
        let bare = (was_bare || left[product].is_zero()) && !movement.change.is_zero();
        if bare && seen[product].is_none_or(|(before, _)| before < movement.at) {
            seen[product] = Some((movement.at, BARE_SD * index.products[product].size));
        }
    }
}

/// For each product when its level was last seen (counted, or opened with the last one empty), and
/// how exactly, in base units.
fn last_seen(snapshot: &Snapshot, index: &Index) -> Vec<Option<(DateTime<Utc>, f64)>> {
    let mut seen: Vec<Option<(DateTime<Utc>, f64)>> = vec![None; index.products.len()];
    let mut note = |product: usize, at: DateTime<Utc>, sd: f64| {
        if seen[product].is_none_or(|(before, _)| before <= at) {
            seen[product] = Some((at, sd));
        }
    };
    for opening in snapshot.facts.openings.iter().filter(|o| o.container.is_none()) {
        if let Some(product) = index.product_place(&opening.product) {
            note(product, opening.at, OPENING_SD * index.products[product].size);
        }
    }
    for count in snapshot.facts.counts.iter().filter(|count| count.container.is_none()) {
        let Some(product) = index.product_place(&count.product) else { continue };
        let own = &index.products[product];
        let quantity = match (count.amount, count.gross_g) {
            (Some(amount), _) => snapshot.facts.products[product].booked_quantity(amount).ok(),
            (None, Some(gross)) => {
                snapshot.facts.products[product].quantity_of_gross(gross, 1).ok()
            }
            (None, None) => None,
        };
        let share = float(count.sd_share());
        note(product, count.at, share * quantity.map_or(own.size, crate::learn::index::base));
    }
    seen
}
