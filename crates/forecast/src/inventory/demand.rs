//! Demand that is not known yet: what every distribution of it can be asked.

use super::error::{InventoryError, share};

/// The chance, strictly between 0 and 1, that stock is enough.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Service(f64);

impl Service {
    /// A chance, as a share: 0.95 is nineteen times in twenty.
    ///
    /// # Errors
    /// [`InventoryError::NotAShare`] unless `chance` lies strictly between 0 and 1.
    pub fn new(chance: f64) -> Result<Self, InventoryError> {
        share("service", chance).map(Self)
    }

    /// The chance, as a share.
    pub fn chance(self) -> f64 {
        self.0
    }

    /// Safety factor z: the standard normal quantile of this chance.
    ///
    /// ```
    /// use capful_forecast::inventory::Service;
    /// assert!((Service::new(0.95)?.safety_factor() - 1.644854).abs() < 1e-6);
    /// # Ok::<(), capful_forecast::inventory::InventoryError>(())
    /// ```
    pub fn safety_factor(self) -> f64 {
        super::standard_normal::quantile(self.0)
    }
}

/// The demand X of one span of time, as a distribution over quantities.
pub trait Demand {
    /// E\[X\], a quantity.
    fn mean(&self) -> f64;

    /// The least stock that is enough with the chance `service`, a quantity.
    fn quantile(&self, service: Service) -> f64;

    /// E[(X − x)⁺], the mean quantity short when the stock is `stock`.
    fn loss(&self, stock: f64) -> f64;

    /// E[(x − X)⁺], the mean quantity left over when the stock is `stock`.
    fn complementary_loss(&self, stock: f64) -> f64 {
        (stock - self.mean() + self.loss(stock)).max(0.0)
    }
}

/// Demand that comes in whole pieces.
pub trait CountDemand: Demand {
    /// The chance of exactly `count` pieces.
    fn chance_of(&self, count: u64) -> f64;

    /// The chance of more than `count` pieces.
    fn chance_above(&self, count: u64) -> f64;
}

/// The whole pieces in `stock`, for stock of zero or more.
pub(super) fn whole(stock: f64) -> u64 {
    stock.floor() as u64
}

/// A chance that falls short by less than this falls short by rounding only.
const ROUNDING: f64 = 1e-14;

/// The least count that is enough with the chance `service`.
pub(super) fn least_count(demand: &impl CountDemand, service: Service) -> f64 {
    let enough = |count: u64| demand.chance_above(count) <= 1.0 - service.chance() + ROUNDING;
    let mut high = 1_u64;
    while high < u64::MAX / 2 && !enough(high) {
        high *= 2;
    }
    let mut low = 0;
    while low < high {
        let middle = low + (high - low) / 2;
        if enough(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    high as f64
}
