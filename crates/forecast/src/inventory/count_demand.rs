//! Demand in whole pieces: Poisson, negative binomial, or chances given one by one.

use statrs::distribution::{Discrete, DiscreteCDF, NegativeBinomial, Poisson};

use super::demand::{CountDemand, Demand, Service, least_count, whole};
use super::error::{InventoryError, positive, zero_or_more};

/// How far from 1 the sum of given chances may be.
const SUM_TOLERANCE: f64 = 1e-9;

/// Poisson demand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoissonDemand {
    mean: f64,
    distribution: Poisson,
}

impl PoissonDemand {
    /// Demand with this mean, in pieces.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`].
    pub fn new(mean: f64) -> Result<Self, InventoryError> {
        let mean = positive("mean", mean)?;
        let not_positive = InventoryError::NotPositive { name: "mean", value: mean };
        let distribution = Poisson::new(mean).map_err(|_| not_positive)?;
        Ok(Self { mean, distribution })
    }

    /// The demand of `periods` periods like this one, each independent of the others.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] when `periods` is not above zero.
    pub fn over_periods(self, periods: f64) -> Result<Self, InventoryError> {
        Self::new(self.mean * positive("periods", periods)?)
    }
}

impl Demand for PoissonDemand {
    fn mean(&self) -> f64 {
        self.mean
    }

    fn quantile(&self, service: Service) -> f64 {
        least_count(self, service)
    }

    /// (λ − x)·(1 − F(x)) + λ·f(x). Source: Snyder & Shen, app. C.
    fn loss(&self, stock: f64) -> f64 {
        if stock < 0.0 {
            return self.mean - stock;
        }
        let count = whole(stock);
        let tail = (self.mean - stock) * self.chance_above(count);
        (tail + self.mean * self.chance_of(count)).max(0.0)
    }
}

impl CountDemand for PoissonDemand {
    fn chance_of(&self, count: u64) -> f64 {
        self.distribution.pmf(count)
    }

    fn chance_above(&self, count: u64) -> f64 {
        self.distribution.sf(count)
    }
}

/// Negative binomial demand: a Poisson whose mean is itself gamma.
#[derive(Debug, Clone, PartialEq)]
pub struct NegativeBinomialDemand {
    /// Mean of one failure count: (1 − p)/p.
    odds: f64,
    successes: f64,
    distribution: NegativeBinomial,
}

impl NegativeBinomialDemand {
    /// The count of failures before `successes` successes (any number above zero), each trial a
    /// success with the chance `chance`, strictly between 0 and 1.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`], [`InventoryError::NotAShare`].
    pub fn new(successes: f64, chance: f64) -> Result<Self, InventoryError> {
        let successes = positive("successes", successes)?;
        let chance = super::error::share("chance", chance)?;
        let distribution = NegativeBinomial::new(successes, chance).map_err(|_| {
            InventoryError::NoSuchDistribution {
                family: "negative binomial",
                first: successes,
                second: chance,
            }
        })?;
        Ok(Self { odds: (1.0 - chance) / chance, successes, distribution })
    }

    /// The negative binomial with this mean and standard deviation, both in pieces.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`]; [`InventoryError::NoSuchDistribution`] when the variance
    /// is not above the mean.
    pub fn from_mean_sd(mean: f64, sd: f64) -> Result<Self, InventoryError> {
        let mean = positive("mean", mean)?;
        let variance = positive("sd", sd)?.powi(2);
        if variance <= mean {
            return Err(InventoryError::NoSuchDistribution {
                family: "negative binomial",
                first: mean,
                second: sd,
            });
        }
        Self::new(mean * mean / (variance - mean), mean / variance)
    }
}

impl Demand for NegativeBinomialDemand {
    fn mean(&self) -> f64 {
        self.successes * self.odds
    }

    fn quantile(&self, service: Service) -> f64 {
        least_count(self, service)
    }

    /// (rβ − x)·(1 − F(n)) + β·(r + n)·f(n) with β = (1 − p)/p and n the whole part of x, from
    /// y·f(y) = (1 − p)·(r + y − 1)·f(y − 1).
    fn loss(&self, stock: f64) -> f64 {
        if stock < 0.0 {
            return self.mean() - stock;
        }
        let count = whole(stock);
        let tail = (self.mean() - stock) * self.chance_above(count);
        let at = self.odds * (self.successes + count as f64) * self.chance_of(count);
        (tail + at).max(0.0)
    }
}

impl CountDemand for NegativeBinomialDemand {
    fn chance_of(&self, count: u64) -> f64 {
        self.distribution.pmf(count)
    }

    fn chance_above(&self, count: u64) -> f64 {
        self.distribution.sf(count)
    }
}

/// Demand whose chances are given one by one, from no piece upwards.
#[derive(Debug, Clone, PartialEq)]
pub struct DiscreteDemand {
    chances: Vec<f64>,
    mean: f64,
}

impl DiscreteDemand {
    /// `chances[n]` is the chance of exactly n pieces.
    ///
    /// # Errors
    /// [`InventoryError::Empty`], [`InventoryError::Negative`], and
    /// [`InventoryError::NotADistribution`] where they do not add up to 1 within 1e-9.
    pub fn new(chances: Vec<f64>) -> Result<Self, InventoryError> {
        if chances.is_empty() {
            return Err(InventoryError::Empty { name: "chances" });
        }
        for &chance in &chances {
            zero_or_more("chance", chance)?;
        }
        let sum: f64 = chances.iter().sum();
        if (sum - 1.0).abs() > SUM_TOLERANCE {
            return Err(InventoryError::NotADistribution { sum });
        }
        let mean = chances.iter().zip(0_u32..).map(|(p, n)| p * f64::from(n));
        Ok(Self { mean: mean.sum(), chances })
    }
}

impl Demand for DiscreteDemand {
    fn mean(&self) -> f64 {
        self.mean
    }

    fn quantile(&self, service: Service) -> f64 {
        least_count(self, service)
    }

    fn loss(&self, stock: f64) -> f64 {
        let short = |(chance, count): (&f64, u32)| chance * (f64::from(count) - stock).max(0.0);
        self.chances.iter().zip(0_u32..).map(short).sum()
    }
}

impl CountDemand for DiscreteDemand {
    fn chance_of(&self, count: u64) -> f64 {
        let index = usize::try_from(count).ok();
        let chance = index.and_then(|index| self.chances.get(index));
        chance.copied().unwrap_or(0.0)
    }

    fn chance_above(&self, count: u64) -> f64 {
        let first = usize::try_from(count).map_or(usize::MAX, |n| n.saturating_add(1));
        self.chances.iter().skip(first).sum()
    }
}
