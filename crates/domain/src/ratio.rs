//! Dilution ratios: parts of water to one part of product.

use std::fmt;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::quantity::Quantity;

/// `5:1` is five parts water to one part product, so one sixth of the mix is product (common
/// practice). Held in thousandths of a part; `0:1` is the product neat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Ratio {
    water_thousandths: i64,
}

/// Most parts of water to one part of product.
pub const MOST_WATER: i64 = 10_000;

/// A number that is no ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("parts of water to one part of product: 0 to 10000, with at most three decimals")]
pub struct NotARatio;

impl Ratio {
    /// Product as it was bought.
    pub const NEAT: Self = Self { water_thousandths: 0 };

    /// From parts of water to one part of product.
    ///
    /// # Errors
    /// [`NotARatio`] below 0, above 10000 or finer than a thousandth.
    pub fn from_water(parts: Decimal) -> Result<Self, NotARatio> {
        let thousandths = parts.checked_mul(Decimal::ONE_THOUSAND).ok_or(NotARatio)?.normalize();
        match thousandths.to_i64() {
            Some(t) if thousandths.scale() == 0 && (0..=MOST_WATER * 1000).contains(&t) => {
                Ok(Self { water_thousandths: t })
            }
            _ => Err(NotARatio),
        }
    }

    /// Parts of water to one part of product.
    #[must_use]
    pub fn water(self) -> Decimal {
        Decimal::new(self.water_thousandths, 3).normalize()
    }

    /// The product in a quantity of the mix, to the nearest ledger unit.
    ///
    /// ```
    /// use capful_domain::{Quantity, Ratio};
    /// use rust_decimal::Decimal;
    /// let five_to_one = Ratio::from_water(Decimal::from(5)).unwrap();
    /// let mix = Quantity::from_ledger_units(600_000); // 600 mL
    /// assert_eq!(five_to_one.product_in(mix).ledger_units(), 100_000);
    /// ```
    #[must_use]
    pub fn product_in(self, mix: Quantity) -> Quantity {
        mix.share(1000, 1000 + self.water_thousandths)
    }

    /// The mix that a quantity of product makes, to the nearest ledger unit.
    #[must_use]
    pub fn mix_of(self, product: Quantity) -> Quantity {
        product.share(1000 + self.water_thousandths, 1000)
    }

    /// Whether no water is added.
    #[must_use]
    pub const fn is_neat(self) -> bool {
        self.water_thousandths == 0
    }
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:1", self.water())
    }
}
