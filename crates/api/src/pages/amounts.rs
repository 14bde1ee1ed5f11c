//! Amounts as people read and write them: in the units of their shop, no finer than they can be
//! poured.

use capful_domain::{Dimension, Quantity, Unit, UnitSystem};
use capful_forecast::plan::AmountIn;
use capful_forecast::sums::{Sign, Summand, adding_up};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

use super::say::words;

/// What one pull of a trigger gives, about, in mL (common practice; ten weighed on a scale say how
/// much it is here).
pub(crate) const SPRAY_ML: u32 = 1;
/// What the cap of a bottle holds, about, in mL (common practice).
pub(crate) const CAP_ML: u32 = 15;

/// A way to say how much.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Measure {
    /// Its word in a form.
    pub word: &'static str,
    /// The unit of the ledger, and how many of it one is.
    pub unit: Unit,
    pub times: u32,
    /// How far one press of a stepper goes.
    pub step: &'static str,
}

const ML: Measure = Measure { word: "mL", unit: Unit::Ml, times: 1, step: "5" };
const FL_OZ: Measure = Measure { word: "fl oz", unit: Unit::FlOz, times: 1, step: "0.25" };
const SPRAYS: Measure = Measure { word: "sprays", unit: Unit::Ml, times: SPRAY_ML, step: "5" };
const CAPS: Measure = Measure { word: "caps", unit: Unit::Ml, times: CAP_ML, step: "0.5" };
const G: Measure = Measure { word: "g", unit: Unit::G, times: 1, step: "5" };
const OZ: Measure = Measure { word: "oz", unit: Unit::Oz, times: 1, step: "0.25" };
const M: Measure = Measure { word: "m", unit: Unit::M, times: 1, step: "0.5" };
const FT: Measure = Measure { word: "ft", unit: Unit::Ft, times: 1, step: "1" };
const EACH: Measure = Measure { word: "each", unit: Unit::Each, times: 1, step: "1" };

/// The measures that a product can be poured in, the first as its shop would.
pub(crate) const fn measures(dimension: Dimension, units: UnitSystem) -> &'static [Measure] {
    match (dimension, units) {
        (Dimension::Volume, UnitSystem::Metric) => &[ML, SPRAYS, CAPS, FL_OZ],
        (Dimension::Volume, UnitSystem::Us) => &[FL_OZ, SPRAYS, CAPS, ML],
        (Dimension::Mass, UnitSystem::Metric) => &[G, OZ],
        (Dimension::Mass, UnitSystem::Us) => &[OZ, G],
        (Dimension::Length, UnitSystem::Metric) => &[M, FT],
        (Dimension::Length, UnitSystem::Us) => &[FT, M],
        (Dimension::Piece, _) => &[EACH],
    }
}

/// A measure by its word.
pub(crate) fn measure(word: &str) -> Option<Measure> {
    let all = [ML, FL_OZ, SPRAYS, CAPS, G, OZ, M, FT, EACH];
    all.into_iter().find(|measure| measure.word == word)
}

impl Measure {
    /// A quantity in this measure, as a form is filled in with it.
    pub(crate) fn of(self, quantity: Quantity) -> String {
        let number = quantity.in_unit(self.unit) / Decimal::from(self.times.max(1));
        let places = match number {
            n if n >= Decimal::from(20) => 0,
            n if n >= Decimal::TWO => 1,
            _ => 2,
        };
        number.round_dp(places).normalize().to_string()
    }
}

/// A quantity with its unit.
pub(crate) fn quantity(quantity: Quantity, dimension: Dimension, units: UnitSystem) -> String {
    let (unit, places) = unit_for(quantity, dimension, units);
    with_unit(quantity.in_unit(unit).round_dp(places), unit)
}

/// A number with its unit; pieces are spelled out.
fn with_unit(number: Decimal, unit: Unit) -> String {
    let number = number.normalize();
    match unit {
        Unit::Each => words().say("pieces").with("count", number).to_string(),
        unit => format!("{number} {}", unit.symbol()),
    }
}

/// An amount of a plan with its unit.
pub(crate) fn amount(amount: &AmountIn, units: UnitSystem) -> String {
    let unit = Unit::parse(amount.unit).unwrap_or(Unit::Each);
    let number = Decimal::from_f64(amount.amount).unwrap_or_default();
    let of = Quantity::from_unit(number, unit).unwrap_or_default();
    quantity(of, unit.dimension(), units)
}

/// The rows of a sum in one unit and to the same place, each with its sign: as they stand, they
/// add up.
pub(crate) fn sum(rows: &[Summand], units: UnitSystem) -> Vec<String> {
    let unit = rows.first().and_then(|row| Unit::parse(row.amount.unit)).unwrap_or(Unit::Each);
    let of = |row: &Summand| {
        let number = Decimal::from_f64(row.amount.amount).unwrap_or_default();
        Quantity::from_unit(number, unit).unwrap_or_default().abs()
    };
    let largest = rows.iter().map(of).max().unwrap_or_default();
    let (shown, places) = unit_for(largest, unit.dimension(), units);
    let factor = Quantity::from_unit(Decimal::ONE, unit).unwrap_or_default().in_unit(shown);
    let numbers = adding_up(rows, factor.to_f64().unwrap_or(1.0), places);
    let text = |(place, (row, number)): (usize, (&Summand, f64))| {
        let sign = match (row.sign, number < 0.0) {
            (Sign::Plus, false) if place > 0 => "+\u{a0}",
            (Sign::Plus | Sign::Is, true) | (Sign::Minus, false) => "−\u{a0}",
            (Sign::Minus, true) => "+\u{a0}",
            (Sign::Plus | Sign::Is, false) => "",
        };
        let number = Decimal::from_f64(number.abs()).unwrap_or_default().round_dp(places);
        format!("{sign}{}", with_unit(number, shown))
    };
    rows.iter().zip(numbers).enumerate().map(text).collect()
}

/// The unit that a quantity is read in best, and how many places.
fn unit_for(quantity: Quantity, dimension: Dimension, units: UnitSystem) -> (Unit, u32) {
    let at_least = |unit: Unit, number: i64| quantity.abs().in_unit(unit) >= number.into();
    let unit = match (dimension, units) {
        (Dimension::Volume, UnitSystem::Metric) if at_least(Unit::L, 1) => Unit::L,
        (Dimension::Volume, UnitSystem::Metric) => Unit::Ml,
        (Dimension::Volume, UnitSystem::Us) if at_least(Unit::Gal, 1) => Unit::Gal,
        (Dimension::Volume, UnitSystem::Us) => Unit::FlOz,
        (Dimension::Mass, UnitSystem::Metric) if at_least(Unit::Kg, 1) => Unit::Kg,
        (Dimension::Mass, UnitSystem::Metric) => Unit::G,
        (Dimension::Mass, UnitSystem::Us) if at_least(Unit::Lb, 1) => Unit::Lb,
        (Dimension::Mass, UnitSystem::Us) => Unit::Oz,
        (Dimension::Length, UnitSystem::Metric) => Unit::M,
        (Dimension::Length, UnitSystem::Us) => Unit::Ft,
        (Dimension::Piece, _) => Unit::Each,
    };
    let number = quantity.abs().in_unit(unit);
    let places = match number {
        n if unit == Unit::Each && n >= Decimal::from(10) => 0,
        n if unit == Unit::Each && n >= Decimal::ONE => 1,
        n if n >= Decimal::from(100) => 0,
        n if n >= Decimal::from(10) && matches!(unit, Unit::Ml | Unit::G) => 0,
        n if n >= Decimal::from(10) => 1,
        _ => 2,
    };
    (unit, places)
}

/// A chance as a person reads it: never quite nothing or all, as no number of futures makes sure.
pub(crate) fn chance(share: f64) -> String {
    match (share * 100.0).round() {
        whole if whole < 1.0 => "under 1\u{a0}%".to_owned(),
        whole if whole > 99.0 => "over 99\u{a0}%".to_owned(),
        whole => format!("{whole:.0}\u{a0}%"),
    }
}

/// A share as a person reads it: whole per cent, and nothing or all only where it is.
pub(crate) fn percent(share: f64) -> String {
    match share {
        share if share >= 1.0 => "100\u{a0}%".to_owned(),
        share if share > 0.99 => "over 99\u{a0}%".to_owned(),
        share if share <= 0.0 => "0\u{a0}%".to_owned(),
        share if share < 0.01 => "under 1\u{a0}%".to_owned(),
        share => format!("{:.0}\u{a0}%", (share * 100.0).round()),
    }
}

/// Shares of a chance in per cent to one decimal, and what they add up to as they stand.
pub(crate) fn percents(parts: &[f64]) -> (Vec<String>, String) {
    let tenths: Vec<f64> = parts.iter().map(|part| (part * 1000.0).round()).collect();
    let shown = |tenths: f64| format!("{:.1}\u{a0}%", tenths / 10.0);
    let all = shown(tenths.iter().sum());
    (tenths.into_iter().map(shown).collect(), all)
}

/// A share of a whole in thousandths, to draw by.
pub(crate) fn thousandths(part: Quantity, whole: Quantity) -> u32 {
    let part = part.in_unit(Unit::Each).to_f64().unwrap_or_default();
    let whole = whole.in_unit(Unit::Each).to_f64().unwrap_or_default();
    let share = if whole > 0.0 { (part / whole).clamp(0.0, 1.0) } else { 0.0 };
    (share * 1000.0).round() as u32
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn ml(number: i64) -> Quantity {
        Quantity::from_unit(number.into(), Unit::Ml).unwrap()
    }

    #[test]
    fn quantities_are_read_in_the_units_of_the_shop() {
        let metric = |q| quantity(q, Dimension::Volume, UnitSystem::Metric);
        let us = |q| quantity(q, Dimension::Volume, UnitSystem::Us);
        assert_eq!(metric(ml(250)), "250 mL");
        assert_eq!(metric(ml(1250)), "1.25 L");
        assert_eq!(metric(ml(0)), "0 mL");
        // 16 US fluid ounces are 473.176 mL, a US gallon 3785.41 mL (NIST Handbook 44).
        assert_eq!(us(ml(473)), "16 fl oz");
        assert_eq!(us(ml(7571)), "2 gal");
    }

    #[test]
    fn pieces_are_called_so() {
        let pieces = |tenths: i64| {
            let number = Decimal::new(tenths, 1);
            let number = Quantity::from_unit(number, Unit::Each).unwrap();
            quantity(number, Dimension::Piece, UnitSystem::Metric)
        };
        assert_eq!(pieces(10), "1 piece");
        assert_eq!(pieces(64), "6.4 pieces");
        // Nobody counts a tenth of a glove of 153.8.
        assert_eq!(pieces(1538), "154 pieces");
        assert_eq!(pieces(0), "0 pieces");
    }

    #[test]
    fn a_chance_is_rounded_as_in_the_reasons_of_the_plan() {
        // 2.5 % is said as 3 %, not as the even neighbour.
        assert_eq!(chance(0.025), "3\u{a0}%");
        assert_eq!(chance(0.0), "under 1\u{a0}%");
        assert_eq!(chance(0.004), "under 1\u{a0}%");
        assert_eq!(chance(1.0), "over 99\u{a0}%");
        assert_eq!(chance(0.99), "99\u{a0}%");
    }

    #[test]
    fn parts_add_up_as_they_stand() {
        let shown = |parts: &[(Sign, f64)], units| {
            let row = |(sign, amount): &(Sign, f64)| Summand {
                sign: *sign,
                part: "",
                amount: AmountIn { amount: *amount, unit: "mL" },
                fills: false,
            };
            sum(&parts.iter().map(row).collect::<Vec<_>>(), units).join(" | ").replace('\u{a0}', "")
        };
        use Sign::{Is, Minus, Plus};
        let parts = [(Plus, 1210.4), (Plus, 894.2), (Minus, 504.0), (Is, 1600.6)];
        assert_eq!(shown(&parts, UnitSystem::Metric), "1.21 L | +0.89 L | −0.5 L | 1.6 L");
        let parts = [(Plus, 40.4), (Plus, -2.0), (Minus, 60.4), (Is, -22.0)];
        assert_eq!(shown(&parts, UnitSystem::Metric), "40 mL | −2 mL | −60 mL | −22 mL");
        // A US fluid ounce is 29.5735 mL (NIST Handbook 44).
        let parts = [(Plus, 59.147), (Minus, 29.574), (Is, 29.573)];
        assert_eq!(shown(&parts, UnitSystem::Us), "2 fl oz | −1 fl oz | 1 fl oz");
    }

    #[test]
    fn measures_are_filled_in_as_they_are_poured() {
        let in_word = |word: &str, q| measure(word).unwrap().of(q);
        assert_eq!(in_word("mL", ml(37)), "37");
        assert_eq!(in_word("caps", ml(30)), "2");
        assert_eq!(in_word("fl oz", ml(30)), "1.01");
    }

    #[test]
    fn chances_are_never_quite_sure() {
        assert_eq!(percent(0.997), "over 99\u{a0}%");
        assert_eq!(percent(0.004), "under 1\u{a0}%");
        assert_eq!(percent(0.93), "93\u{a0}%");
    }
}
