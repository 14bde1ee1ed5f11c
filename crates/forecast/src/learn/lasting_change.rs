//! A lasting change: a new pad, a new pair of hands. From some day on a product is used otherwise,
//! and stays so.
//!
//! What is seen since a day is held against what was seen before: with e the relative residuals and
//! i what each tells of the logarithm of its mean, the difference d of the two weighted means has
//! variance v = 1/Σi(before) + 1/Σi(since). A change with a Gaussian prior of mean m and sd s
//! beside none has the Bayes factor `exp(½ d²/v − ½ (d − m)²/(v + s²)) / √(1 + s²/v)` (Kass &
//! Raftery 1995, §3, for one Gaussian mean).

use crate::learn::fitter::Fit;

/// Standardised residual past which one observation counts no more: a spill is no change.
const BOUND: f64 = 4.0;
/// That bound is so much lower for each unit of skewness: one job alone has a long tail.
const PER_SKEWNESS: f64 = 1.5;
/// Past this the logarithm of a Bayes factor says no more, and can be multiplied.
const LARGEST: f64 = 100.0;
/// Days that are tried.
pub(crate) const TRIED: usize = 17;
/// Weeks ago that a change is looked for.
pub(crate) const WEEKS_AGO: [u32; TRIED] =
    [2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 28, 36, 46, 60, 78, 100, 130];
/// Least that the observations since tell together.
const LEAST_TOLD: f64 = 4.0;
/// Least observations since, and least that they tell, of a product that speaks for itself.
const SEEN_FOR_ITSELF: usize = 3;
const TOLD_FOR_ITSELF: f64 = 12.0;

/// A difference of two means on the scale of the logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Difference {
    seen: f64,
    variance: f64,
    for_itself: bool,
}

/// For each day tried how what is seen of a product since differs from what was seen before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Evidence([Option<Difference>; TRIED]);

impl Evidence {
    /// What a fit's residuals say. `ages` are those of the fitted observations, in days.
    pub fn of(fit: &Fit, ages: &[f64]) -> Self {
        Self(WEEKS_AGO.map(|weeks| difference(fit, ages, f64::from(7 * weeks))))
    }

    /// Seen since one of the days, and nothing of the others.
    #[cfg(test)]
    pub fn since(weeks_ago: u32, seen: f64, variance: f64) -> Self {
        let only = Difference { seen, variance, for_itself: true };
        Self(WEEKS_AGO.map(|weeks| (weeks == weeks_ago).then_some(only)))
    }

    /// Whether so much is seen since a day that it speaks without other products that changed.
    pub fn speaks_for_itself(&self, day: usize) -> bool {
        self.0[day].is_some_and(|difference| difference.for_itself)
    }

    /// Bayes factor of a change on a day with this prior mean and sd, beside none.
    pub fn factor(&self, day: usize, (mean, sd): (f64, f64)) -> f64 {
        let Some(Difference { seen, variance, .. }) = self.0[day] else { return 1.0 };
        let spread = variance + sd * sd;
        let gained = 0.5 * (seen * seen / variance - (seen - mean).powi(2) / spread);
        (gained - 0.5 * (spread / variance).ln()).min(LARGEST).exp()
    }
}

/// How what is seen since `age` days ago differs from what was seen before, if enough is seen.
fn difference(fit: &Fit, ages: &[f64], age: f64) -> Option<Difference> {
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
    (seen > 0 && told[0] > 0.0 && told[1] >= LEAST_TOLD).then(|| Difference {
        seen: sum[1] / told[1] - sum[0] / told[0],
        variance: 1.0 / told[0] + 1.0 / told[1],
        for_itself: seen >= SEEN_FOR_ITSELF && told[1] >= TOLD_FOR_ITSELF,
    })
}

/// The observation since a day that is farthest off, if it is past the bound: one alone is no
/// change.
fn farthest(fit: &Fit, ages: &[f64], age: f64) -> Option<usize> {
    let since = fit.residuals.iter().enumerate().filter(|(place, _)| ages[*place] <= age);
    let farthest = since.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    farthest.filter(|(_, residual)| residual.abs() > BOUND).map(|(place, _)| place)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
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

    /// The day on which a change is likeliest, in weeks ago, and its Bayes factor.
    fn likeliest(fit: &Fit) -> (u32, f64) {
        let seen = Evidence::of(fit, &ages(fit.residuals.len()));
        let days = (0..TRIED).map(|day| (WEEKS_AGO[day], seen.factor(day, (0.0, 0.5))));
        days.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
    }

    #[test]
    fn what_stays_as_it_was_has_not_changed() {
        let fit = fitted((0..60).map(|n| if n % 2 == 0 { 0.8 } else { -0.8 }).collect(), 20.0);
        assert!(likeliest(&fit).1 <= 1.0, "{:?}", likeliest(&fit));
    }

    #[test]
    fn eight_weeks_of_more_are_a_change() {
        let mut residuals = vec![-0.1; 52];
        residuals.extend([1.6; 8]);
        let (weeks_ago, factor) = likeliest(&fitted(residuals, 20.0));
        assert_eq!(weeks_ago, 8);
        assert!(factor > 1000.0, "{factor}");
    }

    #[test]
    fn one_spill_is_no_change() {
        let mut residuals = vec![0.0; 58];
        residuals.extend([40.0, 0.0]);
        let (weeks_ago, factor) = likeliest(&fitted(residuals, 20.0));
        assert!(factor <= 1.0, "{factor} {weeks_ago} weeks ago");
    }
}
