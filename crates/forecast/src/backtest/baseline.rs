//! Plain forecasts of a product's demand from its past demand alone, as the backtest's yardsticks.
//!
//! They see one number for each period (`&[f64]`, oldest first, a quantity, zero where nothing
//! was used) and answer the mean demand of a coming period. They know no job, no calendar and no
//! usage sheet: the planner has to be better than they are.
//!
//! | method | for |
//! | --- | --- |
//! | [`moving_average`] | what a spreadsheet does |
//! | [`simple_exponential_smoothing`] | demand in nearly every period |
//! | [`croston`], [`syntetos_boylan`] | demand now and then |
//! | [`teunter_syntetos_babai`] | demand now and then that may die out |
//!
//! ```
//! use capful_forecast::baseline::{Smoothing, croston};
//!
//! let used_ml = [0.0, 0.0, 5.0, 0.0, 3.0];
//! let forecast_ml = croston(&used_ml, Smoothing::new(0.1)?)?;
//! assert!((forecast_ml - 4.8 / 2.9).abs() < 1e-12);
//! # Ok::<(), capful_forecast::baseline::BaselineError>(())
//! ```

use thiserror::Error;

/// A history or a parameter that no baseline can take.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum BaselineError {
    /// There is no period to look back on.
    #[error("the history has no period")]
    NoHistory,
    /// A period's demand is negative, infinite or not a number.
    #[error("the demand of period {period} (from 0) must be a number of zero or more, not {value}")]
    Demand {
        /// The period's place in the history, from 0.
        period: usize,
        /// What it was.
        value: f64,
    },
    /// A smoothing weight that is not above 0 and at most 1.
    #[error("a smoothing weight must be above 0 and at most 1, not {value}")]
    Smoothing {
        /// What it was.
        value: f64,
    },
    /// A moving average over no period.
    #[error("a moving average needs a window of at least one period")]
    NoWindow,
}

/// The weight of the newest observation, above 0 and at most 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Smoothing(f64);

impl Smoothing {
    /// A weight; 0.1 to 0.3 are usual.
    ///
    /// # Errors
    /// [`BaselineError::Smoothing`] unless the weight is above 0 and at most 1.
    pub fn new(weight: f64) -> Result<Self, BaselineError> {
        if weight > 0.0 && weight <= 1.0 {
            Ok(Self(weight))
        } else {
            Err(BaselineError::Smoothing { value: weight })
        }
    }

    /// The weight.
    pub fn weight(self) -> f64 {
        self.0
    }

    /// `level` moved towards what was seen by this weight.
    fn moved(self, level: f64, seen: f64) -> f64 {
        self.0 * seen + (1.0 - self.0) * level
    }
}

/// Mean of the last `window` periods, or of all where there are fewer.
///
/// # Errors
/// [`BaselineError::NoWindow`], [`BaselineError::NoHistory`], [`BaselineError::Demand`].
///
/// Source: common practice.
pub fn moving_average(demand: &[f64], window: usize) -> Result<f64, BaselineError> {
    check(demand)?;
    if window == 0 {
        return Err(BaselineError::NoWindow);
    }
    let last = &demand[demand.len().saturating_sub(window)..];
    Ok(last.iter().sum::<f64>() / last.len() as f64)
}

/// A level that starts at the first period's demand and moves towards each later one.
///
/// # Errors
/// [`BaselineError::NoHistory`], [`BaselineError::Demand`].
///
/// Source: Brown 1956; Silver, Pyke & Thomas, ch. 3.
pub fn simple_exponential_smoothing(
    demand: &[f64],
    smoothing: Smoothing,
) -> Result<f64, BaselineError> {
    check(demand)?;
    Ok(smoothed(demand.iter().copied(), smoothing).unwrap_or(0.0))
}

/// Croston's method: size of a demand by the interval between demands, each smoothed at the
/// periods that have demand. It starts with the first size and the first interval, counted from
/// before the first period; an interval that has not ended says nothing. Zero when nothing was
/// ever used.
///
/// # Errors
/// [`BaselineError::NoHistory`], [`BaselineError::Demand`].
///
/// Source: Croston 1972, *Operational Research Quarterly* 23(3), 289–303.
pub fn croston(demand: &[f64], smoothing: Smoothing) -> Result<f64, BaselineError> {
    check(demand)?;
    let sizes = demand.iter().copied().filter(|&size| size > 0.0);
    let mut waited = 0_u32;
    let intervals = demand.iter().filter_map(|&size| {
        waited += 1;
        (size > 0.0).then(|| f64::from(std::mem::take(&mut waited)))
    });
    let size = smoothed(sizes, smoothing);
    let interval = smoothed(intervals, smoothing);
    Ok(size.zip(interval).map_or(0.0, |(size, each)| size / each))
}

/// Croston's forecast times 1 − α/2, which takes away most of its bias: the Syntetos–Boylan
/// approximation (SBA).
///
/// # Errors
/// [`BaselineError::NoHistory`], [`BaselineError::Demand`].
///
/// Source: Syntetos & Boylan 2005, *International Journal of Forecasting* 21(2), 303–314.
pub fn syntetos_boylan(demand: &[f64], smoothing: Smoothing) -> Result<f64, BaselineError> {
    Ok((1.0 - smoothing.weight() / 2.0) * croston(demand, smoothing)?)
}

/// Teunter, Syntetos and Babai's method (TSB): size of a demand times the chance that a period
/// has one. The chance is smoothed at every period, so it sinks where a product dies out, the
/// size at the periods that have demand. It starts with the first size and with whether the first
/// period had demand. Zero when nothing was ever used.
///
/// # Errors
/// [`BaselineError::NoHistory`], [`BaselineError::Demand`].
///
/// Source: Teunter, Syntetos & Babai 2011, *European Journal of Operational Research* 214(3),
/// 606–615.
pub fn teunter_syntetos_babai(
    demand: &[f64],
    size_smoothing: Smoothing,
    chance_smoothing: Smoothing,
) -> Result<f64, BaselineError> {
    check(demand)?;
    let sizes = demand.iter().copied().filter(|&size| size > 0.0);
    let happened = demand.iter().map(|&size| f64::from(u8::from(size > 0.0)));
    let size = smoothed(sizes, size_smoothing);
    let chance = smoothed(happened, chance_smoothing);
    Ok(size.zip(chance).map_or(0.0, |(size, chance)| size * chance))
}

/// The smoothed level of a run of values, which starts at the first; none for no values.
fn smoothed(values: impl Iterator<Item = f64>, smoothing: Smoothing) -> Option<f64> {
    values.reduce(|level, seen| smoothing.moved(level, seen))
}

fn check(demand: &[f64]) -> Result<(), BaselineError> {
    if demand.is_empty() {
        return Err(BaselineError::NoHistory);
    }
    let wrong = |value: &f64| !(value.is_finite() && *value >= 0.0);
    match demand.iter().position(wrong) {
        Some(period) => Err(BaselineError::Demand { period, value: demand[period] }),
        None => Ok(()),
    }
}
