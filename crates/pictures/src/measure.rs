//! Quantities in a unit that people use, and the steps of an axis.

use capful_domain::{Dimension, Unit, UnitSystem};
use rust_decimal::prelude::ToPrimitive;

/// A unit to show numbers of another one in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Measure {
    symbol: &'static str,
    /// What a number of the plan's unit is in this one.
    pub factor: f64,
}

impl Measure {
    /// The unit that suits numbers up to `largest` of the unit `symbol`.
    pub fn of(symbol: &str, units: UnitSystem, largest: f64) -> Self {
        let own = Unit::parse(symbol).unwrap_or(Unit::Each);
        let size = |unit: Unit| unit.ledger_units().to_f64().unwrap_or(1000.0);
        let (small, large) = match (own.dimension(), units) {
            (Dimension::Volume, UnitSystem::Metric) => (Unit::Ml, Unit::L),
            (Dimension::Volume, UnitSystem::Us) => (Unit::FlOz, Unit::Gal),
            (Dimension::Mass, UnitSystem::Metric) => (Unit::G, Unit::Kg),
            (Dimension::Mass, UnitSystem::Us) => (Unit::Oz, Unit::Lb),
            (Dimension::Length, UnitSystem::Metric) => (Unit::M, Unit::M),
            (Dimension::Length, UnitSystem::Us) => (Unit::Ft, Unit::Ft),
            (Dimension::Piece, _) => (Unit::Each, Unit::Each),
        };
        let is_large = largest * size(own) / size(large) >= 0.995;
        let unit = if is_large { large } else { small };
        let symbol = if unit == Unit::Each { "pieces" } else { unit.symbol() };
        Self { symbol, factor: size(own) / size(unit) }
    }

    /// A number of the plan's unit, with this one.
    pub fn text(self, number: f64) -> String {
        format!("{} {}", figures(number * self.factor), self.symbol)
    }
}

/// A number to three figures, without zeros that say nothing.
pub(crate) fn figures(number: f64) -> String {
    let size = number.abs();
    let decimals = match size {
        s if s >= 100.0 => 0,
        s if s >= 10.0 => 1,
        _ => 2,
    };
    let text = format!("{number:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// The marks of an axis up to `largest`: steps of 1, 2 or 5 times a power of ten, five at most.
pub(crate) fn marks(largest: f64) -> Vec<f64> {
    if !(largest.is_finite() && largest > 0.0) {
        return vec![0.0];
    }
    let rough = 10_f64.powf((largest / 5.0).log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|times| times * rough);
    let step = steps.into_iter().find(|step| largest / step <= 5.0).unwrap_or(rough * 10.0);
    (0..=5).map(|n| f64::from(n) * step).take_while(|mark| *mark <= largest * 1.000_001).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_in_units_that_the_shop_reads() {
        let text = |symbol, units, number: f64| Measure::of(symbol, units, number).text(number);
        assert_eq!(text("mL", UnitSystem::Metric, 1250.0), "1.25 L");
        assert_eq!(text("L", UnitSystem::Metric, 0.35), "350 mL");
        // A US gallon is 3785.411784 mL (NIST Handbook 44).
        assert_eq!(text("mL", UnitSystem::Us, 7_570.823_568), "2 gal");
        assert_eq!(text("each", UnitSystem::Us, 12.0), "12 pieces");
    }

    #[test]
    fn an_axis_has_round_marks() {
        assert_eq!(marks(4.3), [0.0, 1.0, 2.0, 3.0, 4.0]);
        assert_eq!(marks(900.0), [0.0, 200.0, 400.0, 600.0, 800.0]);
        assert_eq!(marks(0.0), [0.0]);
    }
}
