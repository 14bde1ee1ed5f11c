//! Demand that can be any quantity: normal, lognormal, gamma.

use statrs::distribution::{ContinuousCDF, Gamma};

use super::demand::{Demand, Service};
use super::error::{InventoryError, finite, positive};
use super::root::crossing;
use super::standard_normal;

/// Normal demand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalDemand {
    mean: f64,
    sd: f64,
}

impl NormalDemand {
    /// Demand with this mean and standard deviation, both quantities.
    ///
    /// # Errors
    /// [`InventoryError::NotFinite`] for the mean, [`InventoryError::NotPositive`] for the
    /// standard deviation.
    pub fn new(mean: f64, sd: f64) -> Result<Self, InventoryError> {
        Ok(Self { mean: finite("mean", mean)?, sd: positive("sd", sd)? })
    }

    /// The demand of `periods` periods like this one, each independent of the others.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] when `periods` is not above zero.
    pub fn over_periods(self, periods: f64) -> Result<Self, InventoryError> {
        let periods = positive("periods", periods)?;
        Self::new(self.mean * periods, self.sd * periods.sqrt())
    }

    /// Standard deviation, a quantity.
    pub fn sd(&self) -> f64 {
        self.sd
    }

    /// ½·E[((X − x)⁺)²], in quantity squared.
    pub(super) fn second_order_loss(&self, stock: f64) -> f64 {
        self.sd * self.sd * standard_normal::second_order_loss(self.z(stock))
    }

    /// The chance that demand is more than `stock`.
    pub(super) fn tail(&self, stock: f64) -> f64 {
        standard_normal::tail(self.z(stock))
    }

    fn z(&self, stock: f64) -> f64 {
        (stock - self.mean) / self.sd
    }
}

impl Demand for NormalDemand {
    fn mean(&self) -> f64 {
        self.mean
    }

    fn quantile(&self, service: Service) -> f64 {
        self.mean + self.sd * service.safety_factor()
    }

    /// σ·G(z). Source: Snyder & Shen, app. C.
    fn loss(&self, stock: f64) -> f64 {
        self.sd * standard_normal::standard_normal_loss(self.z(stock))
    }
}

/// Lognormal demand: its logarithm is normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LognormalDemand {
    log_mean: f64,
    log_sd: f64,
}

impl LognormalDemand {
    /// Demand whose logarithm has this mean and standard deviation.
    ///
    /// # Errors
    /// [`InventoryError::NotFinite`] for the mean, [`InventoryError::NotPositive`] for the
    /// standard deviation.
    pub fn new(log_mean: f64, log_sd: f64) -> Result<Self, InventoryError> {
        Ok(Self { log_mean: finite("log_mean", log_mean)?, log_sd: positive("log_sd", log_sd)? })
    }
}

impl Demand for LognormalDemand {
    fn mean(&self) -> f64 {
        (self.log_mean + 0.5 * self.log_sd * self.log_sd).exp()
    }

    fn quantile(&self, service: Service) -> f64 {
        (self.log_mean + self.log_sd * service.safety_factor()).exp()
    }

    /// m·(1 − Φ(z − σ)) − x·(1 − Φ(z)) with m the mean and z = (ln x − μ)/σ, from the partial
    /// expectation of the lognormal (common practice).
    fn loss(&self, stock: f64) -> f64 {
        if stock <= 0.0 {
            return self.mean() - stock;
        }
        let z = (stock.ln() - self.log_mean) / self.log_sd;
        let above = self.mean() * standard_normal::tail(z - self.log_sd);
        (above - stock * standard_normal::tail(z)).max(0.0)
    }
}

/// Gamma demand: never negative, and skewed the more it varies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GammaDemand {
    shape: f64,
    scale: f64,
    distribution: Gamma,
    one_shape_more: Gamma,
}

impl GammaDemand {
    /// Demand with this shape (a number) and scale (a quantity); its mean is their product.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] for either, [`InventoryError::NoSuchDistribution`] where
    /// they are too far apart for double precision.
    pub fn new(shape: f64, scale: f64) -> Result<Self, InventoryError> {
        let shape = positive("shape", shape)?;
        let scale = positive("scale", scale)?;
        let gamma = |shape: f64| {
            Gamma::new(shape, 1.0 / scale).map_err(|_| InventoryError::NoSuchDistribution {
                family: "gamma",
                first: shape,
                second: scale,
            })
        };
        Ok(Self { shape, scale, distribution: gamma(shape)?, one_shape_more: gamma(shape + 1.0)? })
    }

    /// The gamma with this mean and standard deviation, both quantities.
    ///
    /// # Errors
    /// As [`GammaDemand::new`].
    pub fn from_mean_sd(mean: f64, sd: f64) -> Result<Self, InventoryError> {
        let mean = positive("mean", mean)?;
        let sd = positive("sd", sd)?;
        Self::new((mean / sd).powi(2), sd * sd / mean)
    }
}

impl Demand for GammaDemand {
    fn mean(&self) -> f64 {
        self.shape * self.scale
    }

    /// By halving: `statrs` stops too early where the shape is far below 1.
    fn quantile(&self, service: Service) -> f64 {
        let beyond = |stock: f64| self.distribution.cdf(stock) - service.chance();
        let mut high = self.mean();
        while beyond(high) < 0.0 {
            high *= 2.0;
        }
        crossing(0.0, high, beyond)
    }

    /// kθ·(1 − F(x; k + 1)) − x·(1 − F(x; k)), by parts. Source: Snyder & Shen, app. C.
    fn loss(&self, stock: f64) -> f64 {
        if stock <= 0.0 {
            return self.mean() - stock;
        }
        let above = self.mean() * self.one_shape_more.sf(stock);
        (above - stock * self.distribution.sf(stock)).max(0.0)
    }
}
