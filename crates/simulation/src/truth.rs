//! What is truly so, and no shop knows: what jobs take, how often, how differently.

use capful_domain::{Condition, VehicleSize};

use crate::chance::{Random, gamma, happens, uniform};
use crate::recipe::NewPad;

/// The shop's own factors, as in its settings: what a size or grade takes more before anything is
/// learned.
pub(crate) const SIZE_FACTORS: [f64; 4] = [0.8, 1.0, 1.25, 1.5];
pub(crate) const CONDITION_FACTORS: [f64; 5] = [0.7, 0.85, 1.0, 1.25, 1.6];

/// How a product is truly used.
#[derive(Debug, Clone)]
pub struct Thirst {
    /// Exponent on the shop's size factors.
    pub size_exponent: f64,
    /// Exponent on the shop's condition factors.
    pub condition_exponent: f64,
    /// Coefficient of variation from job to job.
    pub cv: f64,
    /// Whether only whole pieces are used.
    pub whole: bool,
    /// From this week on it takes so much of what it took before.
    pub changes: Option<(u32, f64)>,
}

/// One job type's true use of one product.
#[derive(Debug, Clone)]
pub struct Pair {
    /// Place of the product.
    pub product: usize,
    /// Place of the job type.
    pub job_type: usize,
    /// What a job that uses it takes at medium size and condition 3, in base units of product as
    /// bought.
    pub mean: f64,
    /// Share of jobs that use it at all.
    pub share: f64,
    /// What the owner thinks a job that uses it takes.
    pub said: f64,
    /// Parts of water to one part of product.
    pub water: u32,
}

/// Everything that is truly so.
#[derive(Debug, Clone)]
pub struct Truth {
    /// Each pair of job type and product.
    pub pairs: Vec<Pair>,
    /// Each product.
    pub thirsts: Vec<Thirst>,
}

impl Truth {
    /// What a job that uses it takes on average in a week, base units.
    #[must_use]
    pub fn used_mean(
        &self,
        pair: &Pair,
        size: VehicleSize,
        condition: Condition,
        week: u32,
    ) -> f64 {
        let own = &self.thirsts[pair.product];
        let size = SIZE_FACTORS[size.index()].powf(own.size_exponent);
        let condition = CONDITION_FACTORS[condition.index()].powf(own.condition_exponent);
        let changed = own.changes.filter(|(from, _)| week >= *from).map_or(1.0, |(_, f)| f);
        pair.mean * size * condition * changed
    }

    /// The same with jobs that take none.
    #[must_use]
    pub fn mean(&self, pair: &Pair, size: VehicleSize, condition: Condition, week: u32) -> f64 {
        pair.share * self.used_mean(pair, size, condition, week)
    }

    /// What one job takes.
    pub(crate) fn draw(
        &self,
        pair: &Pair,
        (size, condition): (VehicleSize, Condition),
        week: u32,
        random: &mut Random,
    ) -> f64 {
        let used = happens(random, pair.share);
        let own = &self.thirsts[pair.product];
        let amount = gamma(random, self.used_mean(pair, size, condition, week), own.cv);
        // Pieces are whole: the part that is left over is a whole piece now and then.
        let left_over = uniform(random);
        let amount = if own.whole { (amount + left_over).floor() } else { amount };
        if used { amount } else { 0.0 }
    }

    pub(crate) fn change(&mut self, new_pad: NewPad) {
        for thirst in self.thirsts.iter_mut().step_by(new_pad.every.max(1)) {
            thirst.changes = Some((new_pad.week, new_pad.factor));
        }
    }
}
