//! The standard normal distribution and its loss functions.

use statrs::function::erf;
use statrs::function::gamma::checked_gamma_ur;

use super::error::{InventoryError, positive};
use super::root::crossing;

/// Beyond this many standard deviations nothing is left of the normal tail in double precision.
const LAST_Z: f64 = 38.0;

/// Density φ(z).
pub(super) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The chance of more than `z`: 1 − Φ(z), exact in the tail.
///
/// By the regularised incomplete gamma function, 1 − Φ(z) = ½·Q(½, z²/2), since `statrs`'s `erfc`
/// is good to ten digits only and a loss is a small difference.
pub(super) fn tail(z: f64) -> f64 {
    let half_square = 0.5 * z * z;
    if half_square == 0.0 {
        return 0.5;
    }
    // Refused only at infinity, beyond which there is nothing.
    let beyond = 0.5 * checked_gamma_ur(0.5, half_square).unwrap_or(0.0);
    if z < 0.0 { 1.0 - beyond } else { beyond }
}

/// The z below which lies a `share` (strictly between 0 and 1) of the distribution.
pub(super) fn quantile(share: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * share)
}

/// Standard normal loss G(z) = E[(Z − z)⁺] = φ(z) − z·(1 − Φ(z)): the mean shortage, in standard
/// deviations, when the stock is the mean and `z` standard deviations.
///
/// Source: Snyder & Shen, app. C; the table at the back of every inventory textbook.
///
/// ```
/// use capful_forecast::inventory::standard_normal_loss;
/// assert!((standard_normal_loss(1.3) - 0.0455).abs() < 5e-5);
/// ```
pub fn standard_normal_loss(z: f64) -> f64 {
    (density(z) - z * tail(z)).max(0.0)
}

/// Second-order loss ½·E[((Z − z)⁺)²] = ½·[(z² + 1)·(1 − Φ(z)) − z·φ(z)].
pub(super) fn second_order_loss(z: f64) -> f64 {
    (0.5 * ((z * z + 1.0) * tail(z) - z * density(z))).max(0.0)
}

/// The z at which [`standard_normal_loss`] is `loss`: the safety factor for a wanted mean
/// shortage, in standard deviations.
///
/// # Errors
/// [`InventoryError::NotPositive`] when `loss` is not above zero.
pub fn standard_normal_loss_inverse(loss: f64) -> Result<f64, InventoryError> {
    let loss = positive("loss", loss)?;
    // G(z) > −z, so the lower end is always on the far side of the answer.
    Ok(crossing(-loss - 1.0, LAST_Z, |z| loss - standard_normal_loss(z)))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_is_the_normal_table_and_its_ends() {
        // 1 − Φ(1.96) by scipy 1.17.1, norm.sf.
        assert!((tail(1.96) - 0.024997895148220435).abs() < 1e-16);
        assert!((tail(10.0) / 7.61985302416047e-24 - 1.0).abs() < 1e-13);
        assert_eq!([tail(0.0), tail(1e-200)], [0.5, 0.5]);
        assert_eq!([tail(f64::NEG_INFINITY), tail(f64::INFINITY)], [1.0, 0.0]);
        assert!(tail(f64::NAN).is_nan());
        assert!((tail(-1e-5) + tail(1e-5) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn the_quantile_undoes_the_tail() {
        for chance in [1e-9, 0.001, 0.3, 0.5, 0.95, 0.9999] {
            assert!((1.0 - tail(quantile(chance)) - chance).abs() < 1e-15);
        }
    }

    #[test]
    fn the_inverse_of_the_loss_undoes_it() {
        for z in [-6.0, -1.5, 0.0, 0.3, 1.0, 2.5, 4.0] {
            let there = standard_normal_loss(z);
            let back = standard_normal_loss_inverse(there).unwrap();
            assert!((back - z).abs() < 1e-9, "{z} came back as {back}");
        }
    }

    #[test]
    fn a_loss_of_nothing_has_no_finite_safety_factor() {
        assert!(standard_normal_loss_inverse(0.0).is_err());
        assert!(standard_normal_loss_inverse(f64::NAN).is_err());
    }

    #[test]
    fn the_second_order_loss_has_the_loss_as_its_slope() {
        let step = 1e-5;
        for z in [-2.0, 0.0, 1.0, 3.0] {
            let rise = second_order_loss(z - step) - second_order_loss(z + step);
            let slope = rise / (2.0 * step);
            assert!((slope - standard_normal_loss(z)).abs() < 1e-9);
        }
    }
}
