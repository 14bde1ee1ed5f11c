//! Words and numbers as people read them.

use capful_domain::{Dimension, UnitSystem};
use chrono::{Datelike, NaiveDate};

/// A unit to show quantities of one product in, and how finely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shown {
    symbol: &'static str,
    /// Base units in one.
    base: f64,
    decimals: usize,
}

impl Shown {
    /// The unit that suits quantities of about `largest` base units.
    pub fn for_quantity(dimension: Dimension, units: UnitSystem, largest: f64) -> Self {
        let us = units == UnitSystem::Us;
        let (symbol, base) = match (dimension, us) {
            (Dimension::Volume, false) if largest >= 1000.0 => ("L", 1000.0),
            (Dimension::Volume, false) => ("mL", 1.0),
            (Dimension::Volume, true) if largest >= 3785.0 => ("gal", 3_785.411_784),
            (Dimension::Volume, true) => ("fl oz", 29.573_529_562_5),
            (Dimension::Mass, false) if largest >= 1000.0 => ("kg", 1000.0),
            (Dimension::Mass, false) => ("g", 1.0),
            (Dimension::Mass, true) if largest >= 453.0 => ("lb", 453.592_37),
            (Dimension::Mass, true) => ("oz", 28.349_523_125),
            (Dimension::Length, false) => ("m", 1000.0),
            (Dimension::Length, true) => ("ft", 304.8),
            (Dimension::Piece, _) => ("each", 1.0),
        };
        let number = largest / base;
        let whole = number >= 100.0 || (symbol == "mL" || symbol == "g") && number >= 10.0;
        let decimals = if whole {
            0
        } else if number >= 10.0 || symbol == "each" {
            1
        } else {
            2
        };
        Self { symbol, base, decimals }
    }

    /// The number as it is shown, in this unit.
    pub fn round(self, base: f64) -> f64 {
        let scale = 10_f64.powi(i32::try_from(self.decimals).unwrap_or(0));
        (base / self.base * scale).round() / scale
    }

    /// A number already in this unit, with the unit.
    pub fn number(self, number: f64) -> String {
        // Nothing is not "-0", as an empty sum would have it.
        let number = if number > 0.0 { number } else { 0.0 };
        let text = format!("{:.*}", self.decimals, number);
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        match self.symbol {
            "each" if text == "1" => "1 piece".to_owned(),
            "each" => format!("{text} pieces"),
            symbol => format!("{text} {symbol}"),
        }
    }

    /// A quantity of base units, with the unit.
    pub fn text(self, base: f64) -> String {
        self.number(self.round(base))
    }
}

/// "Thursday 5 March".
pub(crate) fn long_day(day: NaiveDate) -> String {
    format!("{} {} {}", day.format("%A"), day.day(), day.format("%B"))
}

/// "5 March", with the year where it is another than `today`'s.
pub(crate) fn short_day(day: NaiveDate, today: NaiveDate) -> String {
    if day.year() == today.year() {
        format!("{} {}", day.day(), day.format("%B"))
    } else {
        format!("{} {} {}", day.day(), day.format("%B"), day.year())
    }
}

/// Whether a quantity as written takes a verb of many: "2 pieces are", "2 L is".
pub(crate) fn is_many(quantity: &str) -> bool {
    quantity.ends_with("pieces")
}

/// "1 booked job", "5 booked jobs".
pub(crate) fn counted(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_shown_in_units_that_people_use() {
        let shown = |units, base| Shown::for_quantity(Dimension::Volume, units, base).text(base);
        assert_eq!(shown(UnitSystem::Metric, 1250.0), "1.25 L");
        assert_eq!(shown(UnitSystem::Metric, 347.4), "347 mL");
        assert_eq!(shown(UnitSystem::Metric, 0.3), "0.3 mL");
        assert_eq!(shown(UnitSystem::Metric, -0.0), "0 mL");
        let towels = Shown::for_quantity(Dimension::Piece, UnitSystem::Metric, 169.0);
        assert!(is_many(&towels.text(169.0)) && !is_many(&towels.text(1.0)));
        assert!(!is_many(&shown(UnitSystem::Metric, 1250.0)));
        assert_eq!(shown(UnitSystem::Us, 118.294_118_25), "4 fl oz");
        assert_eq!(shown(UnitSystem::Us, 3_785.411_784), "1 gal");
    }
}
