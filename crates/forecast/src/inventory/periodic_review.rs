//! (R, S): look every R periods and order what is missing to the level S.
//!
//! An order placed today has to last until the *next* order is on the shelf, so the stock covers
//! review period and lead time together: the protection interval.

use super::continuous_demand::NormalDemand;
use super::demand::{Demand, Service};
use super::error::{InventoryError, positive, zero_or_more};
use super::standard_normal::standard_normal_loss_inverse;

/// Mean and standard deviation of one period's demand, quantities; periods are independent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeriodDemand {
    /// Mean, a quantity.
    pub mean: f64,
    /// Standard deviation, a quantity.
    pub sd: f64,
}

/// Mean and standard deviation of the time from order to shelf, in periods.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadTime {
    /// Mean, in periods.
    pub mean_periods: f64,
    /// Standard deviation, in periods; zero when it is always the same.
    pub sd_periods: f64,
}

/// Mean and standard deviation of the demand between one review and the shelf filled after the
/// next: what the order-up-to level has to carry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProtectionDemand {
    mean: f64,
    sd: f64,
}

impl ProtectionDemand {
    /// Demand of the protection interval as known otherwise, e.g. from simulated futures; both
    /// are quantities.
    ///
    /// # Errors
    /// [`InventoryError::Negative`].
    pub fn new(mean: f64, sd: f64) -> Result<Self, InventoryError> {
        Ok(Self { mean: zero_or_more("mean", mean)?, sd: zero_or_more("sd", sd)? })
    }

    /// Mean m·(R + L), variance (R + L)·σ² + m²·σ_L².
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] for the review period, [`InventoryError::Negative`] for
    /// the rest.
    ///
    /// Source: Silver, Pyke & Thomas, chs. 6 and 7; Snyder & Shen, section 4.3.4.
    ///
    /// ```
    /// use capful_forecast::inventory::{LeadTime, PeriodDemand, ProtectionDemand, Service};
    /// let weekly = PeriodDemand { mean: 40.0, sd: 12.0 };
    /// let lead = LeadTime { mean_periods: 2.0, sd_periods: 0.5 };
    /// let demand = ProtectionDemand::over(weekly, 1.0, lead)?;
    /// let level = demand.order_up_to(Service::new(0.95)?);
    /// assert!((level - 167.44).abs() < 0.01);
    /// # Ok::<(), capful_forecast::inventory::InventoryError>(())
    /// ```
    pub fn over(
        demand: PeriodDemand,
        review_periods: f64,
        lead_time: LeadTime,
    ) -> Result<Self, InventoryError> {
        let mean = zero_or_more("demand.mean", demand.mean)?;
        let sd = zero_or_more("demand.sd", demand.sd)?;
        let review = positive("review_periods", review_periods)?;
        let lead = zero_or_more("lead_time.mean_periods", lead_time.mean_periods)?;
        let lead_sd = zero_or_more("lead_time.sd_periods", lead_time.sd_periods)?;
        let periods = review + lead;
        let variance = periods * sd * sd + (mean * lead_sd).powi(2);
        Self::new(mean * periods, variance.sqrt())
    }

    /// Mean, a quantity.
    pub fn mean(self) -> f64 {
        self.mean
    }

    /// Standard deviation, a quantity.
    pub fn sd(self) -> f64 {
        self.sd
    }

    /// z·σ, the stock beyond the mean demand. Negative for a service below one half.
    pub fn safety_stock(self, service: Service) -> f64 {
        service.safety_factor() * self.sd
    }

    /// Level S that lasts through the protection interval with the chance `service` (the cycle
    /// service of the textbooks), demand being normal; a quantity.
    pub fn order_up_to(self, service: Service) -> f64 {
        self.mean + self.safety_stock(service)
    }

    /// Level S at which the share `filled` of demand is served from the shelf, where
    /// `review_demand` is the mean demand of one review period: mean + k·σ, where the loss
    /// G(k) = (1 − filled)·`review_demand`/σ.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] for the demand of a review period.
    ///
    /// Source: Silver, Pyke & Thomas, ch. 6 (fill rate P₂), from memory.
    pub fn order_up_to_fill_rate(
        self,
        filled: Service,
        review_demand: f64,
    ) -> Result<f64, InventoryError> {
        let short = (1.0 - filled.chance()) * positive("review_demand", review_demand)?;
        if self.sd == 0.0 {
            return Ok((self.mean - short).max(0.0));
        }
        let factor = standard_normal_loss_inverse(short / self.sd)?;
        Ok(self.mean + factor * self.sd)
    }

    /// Mean quantity short in a protection interval with the stock `level`, demand being normal.
    pub fn mean_shortage(self, level: f64) -> f64 {
        NormalDemand::new(self.mean, self.sd)
            .map_or_else(|_| (self.mean - level).max(0.0), |d| d.loss(level))
    }
}
