//! Quantities: integers of the thousandth of a base unit, and the units that people write.
//!
//! Sources of the US units: NIST Handbook 44, appendix C (gallon 231 in³ = 3785.411784 mL, pound
//! 453.59237 g exactly); a foot is 304.8 mm exactly.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Base unit millilitre; ledger unit µL.
    Volume,
    /// Base unit gram; ledger unit mg.
    Mass,
    /// Base unit millimetre; ledger unit µm.
    Length,
    /// Base unit piece; ledger unit 1/1000 piece.
    Piece,
}

/// A unit that people write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Millilitre.
    Ml,
    /// Litre.
    L,
    /// US fluid ounce, 29.5735295625 mL.
    FlOz,
    /// US gallon, 3785.411784 mL.
    Gal,
    /// US liquid pint, an eighth of a gallon.
    Pt,
    /// US liquid quart, a quarter of a gallon.
    Qt,
    /// Gram.
    G,
    /// Kilogram.
    Kg,
    /// Avoirdupois ounce, a sixteenth of a pound.
    Oz,
    /// Avoirdupois pound, 453.59237 g.
    Lb,
    /// Metre.
    M,
    /// Foot, 304.8 mm.
    Ft,
    /// Piece.
    Each,
}

impl Unit {
    /// Every unit, in the order of the shop folder's page.
    pub const ALL: [Self; 13] = [
        Self::Ml,
        Self::L,
        Self::FlOz,
        Self::Gal,
        Self::Pt,
        Self::Qt,
        Self::G,
        Self::Kg,
        Self::Oz,
        Self::Lb,
        Self::M,
        Self::Ft,
        Self::Each,
    ];

    /// Reads a symbol as it stands in the shop folder (`mL`, `fl oz`, …).
    #[must_use]
    pub fn parse(symbol: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.symbol() == symbol)
    }

    /// The symbol, as in the shop folder.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Ml => "mL",
            Self::L => "L",
            Self::FlOz => "fl oz",
            Self::Gal => "gal",
            Self::Pt => "pt",
            Self::Qt => "qt",
            Self::G => "g",
            Self::Kg => "kg",
            Self::Oz => "oz",
            Self::Lb => "lb",
            Self::M => "m",
            Self::Ft => "ft",
            Self::Each => "each",
        }
    }

    /// What it measures.
    #[must_use]
    pub const fn dimension(self) -> Dimension {
        match self {
            Self::Ml | Self::L | Self::FlOz | Self::Gal | Self::Pt | Self::Qt => Dimension::Volume,
            Self::G | Self::Kg | Self::Oz | Self::Lb => Dimension::Mass,
            Self::M | Self::Ft => Dimension::Length,
            Self::Each => Dimension::Piece,
        }
    }

    /// Exact number of ledger units (µL, mg, µm, 1/1000 piece) in one of this unit.
    #[must_use]
    pub fn ledger_units(self) -> Decimal {
        match self {
            Self::Ml | Self::G | Self::Each => Decimal::ONE_THOUSAND,
            Self::L | Self::Kg | Self::M => Decimal::new(1_000_000, 0),
            Self::FlOz => Decimal::new(295_735_295_625, 7),
            Self::Pt => Decimal::new(473_176_473, 3),
            Self::Qt => Decimal::new(946_352_946, 3),
            Self::Gal => Decimal::new(3_785_411_784, 3),
            Self::Oz => Decimal::new(28_349_523_125, 6),
            Self::Lb => Decimal::new(45_359_237, 2),
            Self::Ft => Decimal::new(304_800, 0),
        }
    }

    /// Decimals that a quantity of the ledger can tell apart in this unit: shown with so many,
    /// a number that was read comes back the same.
    #[must_use]
    pub const fn decimals(self) -> u32 {
        match self {
            Self::Ml | Self::G | Self::Each => 3,
            Self::FlOz | Self::Oz => 4,
            Self::Pt | Self::Qt | Self::Lb | Self::Ft => 5,
            Self::L | Self::Kg | Self::M | Self::Gal => 6,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// A quantity in ledger units: µL, mg, µm or 1/1000 piece. May be negative, as a movement is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Quantity(i64);

/// A number too large for the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a quantity the ledger can hold (less than 9.2 billion litres)")]
pub struct QuantityTooLarge;

impl Quantity {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// From ledger units.
    #[must_use]
    pub const fn from_ledger_units(units: i64) -> Self {
        Self(units)
    }

    /// In ledger units.
    #[must_use]
    pub const fn ledger_units(self) -> i64 {
        self.0
    }

    /// From a number of some unit, to the nearest ledger unit (half away from zero).
    ///
    /// ```
    /// use capful_domain::{Quantity, Unit};
    /// use rust_decimal::Decimal;
    /// let bottle = Quantity::from_unit(Decimal::from(4), Unit::FlOz).unwrap();
    /// assert_eq!(bottle.ledger_units(), 118_294); // 118.29 mL
    /// assert_eq!(bottle.in_unit(Unit::FlOz), Decimal::from(4));
    /// ```
    ///
    /// # Errors
    /// [`QuantityTooLarge`] past `i64`.
    pub fn from_unit(number: Decimal, unit: Unit) -> Result<Self, QuantityTooLarge> {
        number
            .checked_mul(unit.ledger_units())
            .map(|n| n.round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero))
            .and_then(|n| n.to_i64())
            .map(Self)
            .ok_or(QuantityTooLarge)
    }

    /// As a number of some unit, to as many decimals as the ledger can tell apart.
    #[must_use]
    pub fn in_unit(self, unit: Unit) -> Decimal {
        (Decimal::from(self.0) / unit.ledger_units())
            .round_dp_with_strategy(unit.decimals(), RoundingStrategy::MidpointAwayFromZero)
            .normalize()
    }

    /// Without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// Zero where it is negative.
    #[must_use]
    pub fn or_zero(self) -> Self {
        self.max(Self::ZERO)
    }

    /// This quantity `times` over.
    #[must_use]
    pub const fn times(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }

    /// The `part`/`whole` share of it, to the nearest ledger unit.
    #[must_use]
    pub fn share(self, part: i64, whole: i64) -> Self {
        let wide = i128::from(self.0) * i128::from(part);
        Self(nearest_quotient(wide, i128::from(whole)))
    }

    /// Whether it is exactly nothing.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }
}

/// `n / d` to the nearest integer, half away from zero; 0 where `d` is 0.
pub(crate) fn nearest_quotient(n: i128, d: i128) -> i64 {
    if d == 0 {
        return 0;
    }
    let half = d.abs() / 2;
    let rounded = if (n < 0) == (d < 0) { n + half * d.signum() } else { n - half * d.signum() };
    i64::try_from(rounded / d).unwrap_or(if (n < 0) == (d < 0) { i64::MAX } else { i64::MIN })
}

impl Add for Quantity {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Quantity {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Quantity {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl AddAssign for Quantity {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Quantity {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Sum for Quantity {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        items.fold(Self::ZERO, Add::add)
    }
}

/// A quantity as somebody wrote it: the number and its unit are kept, so that it is written back
/// as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Amount {
    /// The number, in `unit`.
    pub number: Decimal,
    /// The unit it was written in.
    pub unit: Unit,
}

impl Amount {
    /// Nothing, in some unit.
    #[must_use]
    pub const fn zero(unit: Unit) -> Self {
        Self { number: Decimal::ZERO, unit }
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.number, self.unit)
    }
}
