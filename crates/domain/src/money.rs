//! Money: integers of the currency's minor unit (ISO 4217).

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Sub};

use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};

use crate::quantity::{Quantity, nearest_quotient};

/// An ISO 4217 currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Currency(iso_currency::Currency);

impl Currency {
    /// `XXX`, ISO 4217's code for no currency.
    pub const NONE: Self = Self(iso_currency::Currency::XXX);

    /// From its three-letter code.
    #[must_use]
    pub fn parse(code: &str) -> Option<Self> {
        iso_currency::Currency::from_code(code).map(Self)
    }

    /// The three-letter code.
    #[must_use]
    pub fn code(self) -> &'static str {
        self.0.code()
    }

    /// Decimals of the minor unit: 2 for CAD, 0 for JPY, 3 for KWD.
    #[must_use]
    pub fn decimals(self) -> u32 {
        self.0.exponent().map_or(2, u32::from)
    }
}

/// An amount of money in the shop's currency, in minor units (cents).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Money(i64);

impl Money {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// From minor units.
    #[must_use]
    pub const fn from_minor(minor: i64) -> Self {
        Self(minor)
    }

    /// In minor units.
    #[must_use]
    pub const fn minor(self) -> i64 {
        self.0
    }

    /// From a decimal, to the nearest minor unit (half away from zero); `None` past `i64`.
    #[must_use]
    pub fn from_decimal(number: Decimal, currency: Currency) -> Option<Self> {
        number
            .checked_mul(Decimal::from(10_i64.pow(currency.decimals())))?
            .round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero)
            .to_i64()
            .map(Self)
    }

    /// As a decimal with the currency's number of decimals: `46.00`.
    #[must_use]
    pub fn to_decimal(self, currency: Currency) -> Decimal {
        Decimal::new(self.0, currency.decimals())
    }

    /// This amount `times` over.
    #[must_use]
    pub const fn times(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }

    /// The `part`/`whole` share of it, to the nearest minor unit.
    #[must_use]
    pub fn share(self, part: i64, whole: i64) -> Self {
        Self(nearest_quotient(i128::from(self.0) * i128::from(part), i128::from(whole)))
    }

    /// What `quantity` costs where `whole` costs this.
    #[must_use]
    pub fn for_quantity(self, quantity: Quantity, whole: Quantity) -> Self {
        self.share(quantity.ledger_units(), whole.ledger_units())
    }
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        items.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}
