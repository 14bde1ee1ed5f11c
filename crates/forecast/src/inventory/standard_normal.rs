//! The standard normal distribution and its loss functions.

use statrs::function::erf;

use super::error::{InventoryError, positive};
use super::root::crossing;

/// Beyond this many standard deviations nothing is left of the normal tail in double precision.
const LAST_Z: f64 = 38.0;

/// Density φ(z).
pub(super) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The chance of more than `z`: 1 − Φ(z), exact in the tail.
pub(super) fn tail(z: f64) -> f64 {
    0.5 * erf::erfc(z / std::f64::consts::SQRT_2)
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
mod tests {
    use super::*;

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
