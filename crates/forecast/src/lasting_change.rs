//! A lasting change: a new pad, a new pair of hands. From some day on a product is used otherwise,
//! and stays so.
//!
//! What is seen since a day is held against what was seen before: with e the relative residuals and
//! i what each tells of the logarithm of its mean, the difference d of the two weighted means has
//! variance v = 1/Σi(before) + 1/Σi(since). A change with a Gaussian prior of sd s beside none has
//! the Bayes factor `exp(½ d²/v · s²/(s² + v)) / √(1 + s²/v)` (Kass & Raftery 1995, §3, for one
//! Gaussian mean).

use crate::fitter::Fit;

/// Prior sd of what a change does, on the scale of the logarithm.
pub(crate) const CHANGE_SD: f64 = 0.5;
/// Chance, before anything is seen, that a product's use changed on one of the days tried.
const CHANCE_BEFORE: f64 = 0.08;
/// A change less likely than this is not looked into.
const LEAST_CHANCE: f64 = 0.1;
/// Standardised residual past which one observation counts no more: a spill is no change.
const BOUND: f64 = 4.0;
/// That bound is so much lower for each unit of skewness: one job alone has a long tail.
const PER_SKEWNESS: f64 = 1.5;
const TRIED: usize = 17;
/// Weeks ago that a change is looked for.
const WEEKS_AGO: [u32; TRIED] = [2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 28, 36, 46, 60, 78, 100, 130];
/// Least observations since.
const LEAST_SEEN: usize = 3;
/// Least that they tell together.
const LEAST_TOLD: f64 = 12.0;

/// For each day tried the chance that a product's use changed on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Chances([f64; TRIED]);

/// A change that may have been.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Change {
    /// Observations of this age in days, and younger, speak of the product as it is used since.
    pub age_days: f64,
    /// How likely it is.
    pub chance: f64,
}

impl Chances {
    /// Of a product of which nothing is known.
    pub const fn before() -> Self {
        Self([CHANCE_BEFORE / TRIED as f64; TRIED])
    }

    /// The same of a shop in which these products look changed: what changes one, such as new
    /// hands, often changes others on the same day. One product alone says nothing of the others.
    pub fn in_shop(products: &[Self]) -> Self {
        let count = products.len().max(1) as f64;
        let mut own = Self::before();
        for (day, chance) in own.0.iter_mut().enumerate() {
            let changed: f64 = products.iter().map(|product| product.0[day]).sum();
            *chance = chance.max((changed - 1.0) / count);
        }
        let all: f64 = own.0.iter().sum();
        own.0.iter_mut().for_each(|chance| *chance *= (0.5 / all).min(1.0));
        own
    }

    /// What they become by what is seen. `ages` are those of the fitted observations, in days.
    pub fn after(&self, fit: &Fit, ages: &[f64]) -> Self {
        let none = 1.0 - self.0.iter().sum::<f64>();
        let mut weights = [0.0; TRIED];
        for (place, (weight, before)) in weights.iter_mut().zip(self.0).enumerate() {
            let evidence = evidence(fit, ages, f64::from(7 * WEEKS_AGO[place]));
            *weight = before * evidence.min(300.0).exp();
        }
        let all = none + weights.iter().sum::<f64>();
        Self(weights.map(|weight| weight / all))
    }

    /// The likeliest change, unless any is unlikely.
    pub fn likeliest(&self) -> Option<Change> {
        let chance: f64 = self.0.iter().sum();
        let best = (0..TRIED).max_by(|a, b| self.0[*a].total_cmp(&self.0[*b]))?;
        let age_days = f64::from(7 * WEEKS_AGO[best]);
        (chance > LEAST_CHANCE).then_some(Change { age_days, chance })
    }
}

/// Logarithm of the Bayes factor of a change `age` days ago.
fn evidence(fit: &Fit, ages: &[f64], age: f64) -> f64 {
    let (mut told, mut sum, mut seen) = ([0.0; 2], [0.0; 2], 0);
    let spilled = farthest(fit, ages, age);
    for (place, ((residual, own), age_of)) in
        fit.residuals.iter().zip(&fit.told).zip(ages).enumerate()
    {
        if spilled == Some(place) {
            continue;
        }
        let since = usize::from(*age_of <= age);
        // A relative residual is the standardised one over the root of what it tells.
        told[since] += own;
        // The skewness of a Gamma quantity is twice its coefficient of variation.
        let bound = (BOUND - PER_SKEWNESS * 2.0 / own.max(1e-9).sqrt()).max(1.0);
        sum[since] += residual.clamp(-bound, bound) * own.sqrt();
        seen += usize::from(*own > 0.0) * since;
    }
    if seen < LEAST_SEEN || told[0] <= 0.0 || told[1] < LEAST_TOLD {
        return 0.0;
    }
    let difference = sum[1] / told[1] - sum[0] / told[0];
    let variance = 1.0 / told[0] + 1.0 / told[1];
    let prior = CHANGE_SD * CHANGE_SD;
    let gained = 0.5 * difference * difference / variance * prior / (prior + variance);
    gained - 0.5 * (1.0 + prior / variance).ln()
}

/// The observation since a day that is farthest off, if it is past the bound: one alone is no
/// change.
fn farthest(fit: &Fit, ages: &[f64], age: f64) -> Option<usize> {
    let since = fit.residuals.iter().enumerate().filter(|(place, _)| ages[*place] <= age);
    let farthest = since.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    farthest.filter(|(_, residual)| residual.abs() > BOUND).map(|(place, _)| place)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::float_cmp)]
mod tests {
    use super::*;

    fn fitted(residuals: Vec<f64>, told: f64) -> Fit {
        let rows = residuals.len();
        Fit {
            b: Vec::new(),
            covariance: ndarray::Array2::zeros((0, 0)),
            dispersion: 0.1,
            residuals,
            told: vec![told; rows],
            steps: 0,
        }
    }

    fn ages(rows: usize) -> Vec<f64> {
        (0..rows).rev().map(|week| 7.0 * week as f64 + 3.0).collect()
    }

    fn likeliest(fit: &Fit) -> Option<Change> {
        Chances::before().after(fit, &ages(fit.residuals.len())).likeliest()
    }

    #[test]
    fn what_changed_for_many_is_believed_sooner_of_another() {
        let mut residuals = vec![0.0; 52];
        residuals.extend([1.1; 8]);
        let doubtful = fitted(residuals, 20.0);
        let ages = ages(60);
        let alone = Chances::before().after(&doubtful, &ages);
        let mut plain = vec![-0.1; 52];
        plain.extend([1.6; 8]);
        let changed = Chances::before().after(&fitted(plain, 20.0), &ages);
        let in_shop = Chances::in_shop(&[changed, changed, changed, changed, alone]);
        let chance = |chances: Chances| chances.likeliest().map_or(0.0, |c| c.chance);
        assert!(chance(alone) < 0.3, "{}", chance(alone));
        assert!(chance(in_shop.after(&doubtful, &ages)) > 0.5);
        let one = Chances::in_shop(&[changed, alone, alone, alone, alone]);
        assert_eq!(one, Chances::before());
    }

    #[test]
    fn what_stays_as_it_was_has_not_changed() {
        let fit = fitted((0..60).map(|n| if n % 2 == 0 { 0.8 } else { -0.8 }).collect(), 20.0);
        assert_eq!(likeliest(&fit), None);
    }

    #[test]
    fn eight_weeks_of_more_are_a_change() {
        let mut residuals = vec![-0.1; 52];
        residuals.extend([1.6; 8]);
        let change = likeliest(&fitted(residuals, 20.0)).unwrap();
        assert_eq!(change.age_days, 56.0);
        assert!(change.chance > 0.9, "{}", change.chance);
    }

    #[test]
    fn one_spill_is_no_change() {
        let mut residuals = vec![0.0; 58];
        residuals.extend([40.0, 0.0]);
        assert_eq!(likeliest(&fitted(residuals, 20.0)), None);
    }
}
