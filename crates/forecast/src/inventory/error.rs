//! What can be wrong with a parameter, and the checks that say so.

use thiserror::Error;

/// A parameter that no formula here can take, or a search that has no answer.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum InventoryError {
    /// Zero, negative, infinite or not a number where a number above zero is needed.
    #[error("{name} must be a number above zero, not {value}")]
    NotPositive {
        /// The parameter.
        name: &'static str,
        /// What it was.
        value: f64,
    },
    /// Negative, infinite or not a number where zero or more is needed.
    #[error("{name} must be a number of zero or more, not {value}")]
    Negative {
        /// The parameter.
        name: &'static str,
        /// What it was.
        value: f64,
    },
    /// Infinite or not a number.
    #[error("{name} must be a finite number, not {value}")]
    NotFinite {
        /// The parameter.
        name: &'static str,
        /// What it was.
        value: f64,
    },
    /// A chance or a share that is not strictly between 0 and 1.
    #[error("{name} must lie strictly between 0 and 1, not {value}")]
    NotAShare {
        /// The parameter.
        name: &'static str,
        /// What it was.
        value: f64,
    },
    /// A list with nothing in it.
    #[error("{name} must not be empty")]
    Empty {
        /// The parameter.
        name: &'static str,
    },
    /// Chances that do not add up to 1.
    #[error("the chances must add up to 1, not {sum}")]
    NotADistribution {
        /// What they add up to.
        sum: f64,
    },
    /// A value that does not stand above the one before it (or, for prices, below it).
    #[error("{name} is out of order at {value}")]
    OutOfOrder {
        /// The parameter.
        name: &'static str,
        /// The value that is out of its place.
        value: f64,
    },
    /// Two parameters of a distribution that do not go together.
    #[error("no {family} distribution has the parameters {first} and {second}")]
    NoSuchDistribution {
        /// The family.
        family: &'static str,
        /// The first parameter.
        first: f64,
        /// The second parameter.
        second: f64,
    },
    /// An iteration that came to no end.
    #[error("{name} did not settle within {steps} steps; its last value was {value}")]
    NotSettled {
        /// What was sought.
        name: &'static str,
        /// The steps taken.
        steps: u32,
        /// The last value.
        value: f64,
    },
}

/// `value` itself, where it is finite and above zero.
pub(super) fn positive(name: &'static str, value: f64) -> Result<f64, InventoryError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(InventoryError::NotPositive { name, value })
    }
}

/// `value` itself, where it is finite and zero or more.
pub(super) fn zero_or_more(name: &'static str, value: f64) -> Result<f64, InventoryError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(InventoryError::Negative { name, value })
    }
}

/// `value` itself, where it is finite.
pub(super) fn finite(name: &'static str, value: f64) -> Result<f64, InventoryError> {
    if value.is_finite() { Ok(value) } else { Err(InventoryError::NotFinite { name, value }) }
}

/// `value` itself, where it lies strictly between 0 and 1.
pub(super) fn share(name: &'static str, value: f64) -> Result<f64, InventoryError> {
    if value > 0.0 && value < 1.0 {
        Ok(value)
    } else {
        Err(InventoryError::NotAShare { name, value })
    }
}
