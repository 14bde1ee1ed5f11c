//! Quantities, money, chances and days as people say them.

use capful_domain::{Dimension, Unit, UnitSystem};
use capful_forecast::sums::{Sign, Summand, adding_up};
use chrono::{Datelike, NaiveDate};
use rust_decimal::prelude::ToPrimitive;

/// How exactly a quantity is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Digits {
    /// Two figures: enough to act on.
    Two,
    /// Three figures: enough to follow a sum.
    Three,
}

/// A number of some unit in the shop's unit system: `1.2 L`, `350 mL`, `4 fl oz`, `3 pieces`.
pub(crate) fn quantity(number: f64, unit: Unit, system: UnitSystem, digits: Digits) -> String {
    let size = |unit: Unit| unit.ledger_units().to_f64().unwrap_or(1000.0);
    let (small, large) = ladder(unit.dimension(), system);
    let in_small = number * size(unit) / size(small);
    let in_large = number * size(unit) / size(large);
    // Where rounding would make a full large unit, say so.
    let (shown, unit) =
        if in_large.abs() >= 0.9951 { (in_large, large) } else { (in_small, small) };
    let number = figures(shown, digits, unit == Unit::Each);
    let one = number == "1";
    format!("{number} {}", name(unit, one))
}

/// How numbers of some unit are shown beside each other: in one unit and with the same decimals,
/// so that the largest of them has three figures.
struct Scale {
    /// What it is called.
    unit: &'static str,
    /// How many of it one of the numbers' own unit is.
    factor: f64,
    decimals: usize,
}

impl Scale {
    fn of(numbers: impl Iterator<Item = f64>, unit: Unit, system: UnitSystem) -> Self {
        let size = |unit: Unit| unit.ledger_units().to_f64().unwrap_or(1000.0);
        let (small, large) = ladder(unit.dimension(), system);
        let most = numbers.fold(0.0_f64, |most, number| most.max(number.abs()));
        let fits = most * size(unit) / size(large) >= 0.9951;
        let shown = if fits { large } else { small };
        let factor = size(unit) / size(shown);
        let figures = if most > 0.0 { floor_to_i32((most * factor).log10()) + 1 } else { 3 };
        let decimals = usize::try_from(3 - figures).unwrap_or(0).min(3);
        Self { unit: name(shown, false), factor, decimals }
    }
}

/// Numbers of some unit in one unit and with the same decimals.
pub(crate) fn in_one_unit(numbers: &[f64], unit: Unit, system: UnitSystem) -> Vec<String> {
    let Scale { unit, factor, decimals } = Scale::of(numbers.iter().copied(), unit, system);
    let each = numbers.iter().map(|number| format!("{:.decimals$} {unit}", number * factor));
    each.collect()
}

/// The rows of a sum: the sign of each and its number, which add up as they stand.
pub(crate) fn sum(rows: &[Summand], system: UnitSystem) -> Vec<(&'static str, String)> {
    let unit = rows.first().and_then(|row| Unit::parse(row.amount.unit)).unwrap_or(Unit::Each);
    let own = rows.iter().map(|row| row.amount.amount);
    let Scale { unit, factor, decimals } = Scale::of(own, unit, system);
    let numbers = adding_up(rows, factor, u32::try_from(decimals).unwrap_or(0));
    let shown = |(place, (row, number)): (usize, (&Summand, f64))| {
        let sign = match (row.sign, number < 0.0) {
            (Sign::Is, _) => "=",
            (Sign::Plus, false) if place == 0 => "",
            (Sign::Plus, false) | (Sign::Minus, true) => "+",
            (Sign::Plus, true) | (Sign::Minus, false) => "−",
        };
        // A sum may be below nothing; a part says so by its sign.
        let minus = if row.sign == Sign::Is && number < 0.0 { "−" } else { "" };
        (sign, format!("{minus}{:.decimals$} {unit}", number.abs()))
    };
    rows.iter().zip(numbers).enumerate().map(shown).collect()
}

/// What a unit is called behind a number.
const fn name(unit: Unit, one: bool) -> &'static str {
    match unit {
        Unit::Each if one => "piece",
        Unit::Each => "pieces",
        other => other.symbol(),
    }
}

const fn ladder(dimension: Dimension, system: UnitSystem) -> (Unit, Unit) {
    match (dimension, system) {
        (Dimension::Volume, UnitSystem::Metric) => (Unit::Ml, Unit::L),
        (Dimension::Volume, UnitSystem::Us) => (Unit::FlOz, Unit::Gal),
        (Dimension::Mass, UnitSystem::Metric) => (Unit::G, Unit::Kg),
        (Dimension::Mass, UnitSystem::Us) => (Unit::Oz, Unit::Lb),
        (Dimension::Length, UnitSystem::Metric) => (Unit::M, Unit::M),
        (Dimension::Length, UnitSystem::Us) => (Unit::Ft, Unit::Ft),
        (Dimension::Piece, _) => (Unit::Each, Unit::Each),
    }
}

/// A number to two or three figures, without zeros that say nothing. Pieces are whole from ten on,
/// and never rounded to tens.
fn figures(number: f64, digits: Digits, pieces: bool) -> String {
    let keep = match digits {
        Digits::Two => 1,
        Digits::Three => 2,
    };
    let size = number.abs();
    let place = if size > 0.0 { floor_to_i32(size.log10()) } else { 0 };
    let decimals = keep - place;
    let text = if decimals > 0 {
        let decimals = usize::try_from(decimals.min(3)).unwrap_or(0);
        format!("{number:.decimals$}")
    } else if pieces || decimals == 0 {
        format!("{number:.0}")
    } else {
        let step = 10_f64.powi(-decimals);
        format!("{:.0}", (number / step).round() * step)
    };
    let text = match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    };
    if text == "-0" { "0".to_owned() } else { text }
}

#[allow(clippy::cast_possible_truncation)] // a logarithm of an f64 is below 400
fn floor_to_i32(number: f64) -> i32 {
    number.floor() as i32
}

/// A chance in per cent, never said to be surer than drawing futures can tell: `<1%`, `7%`, `93%`,
/// `>99%`.
pub(crate) fn chance(chance: f64) -> String {
    let percent = chance * 100.0;
    if percent < 1.0 {
        "<1%".to_owned()
    } else if percent > 99.0 {
        ">99%".to_owned()
    } else {
        format!("{percent:.0}%")
    }
}

/// Shares of a chance in per cent to one decimal, and the chance that they add up to as they stand.
pub(crate) fn shares(parts: &[f64]) -> (Vec<String>, String) {
    let tenths: Vec<f64> = parts.iter().map(|part| (part * 1000.0).round()).collect();
    let shown = |tenths: f64| format!("{:.1}%", tenths / 10.0);
    let all = shown(tenths.iter().sum());
    (tenths.into_iter().map(shown).collect(), all)
}

/// A share in per cent.
pub(crate) fn share(share: f64) -> String {
    format!("{:.0}%", share * 100.0)
}

/// Two days as one span, as seen from a third: `6 to 9 Mar`, `tomorrow to 9 Mar`.
pub(crate) fn span(first: NaiveDate, last: NaiveDate, seen_from: NaiveDate) -> String {
    if first == last {
        return day(first, seen_from);
    }
    let short = |date: NaiveDate| date.format("%-d %b").to_string();
    let from = if (first - seen_from).num_days() <= 1 {
        day(first, seen_from)
    } else if (first.year(), first.month()) == (last.year(), last.month()) {
        first.day().to_string()
    } else {
        short(first)
    };
    format!("{from} to {}", short(last))
}

/// A day as seen from another: `today`, `tomorrow`, `Thu 5 Mar`, and `5 Mar 2027` in another year.
pub(crate) fn day(day: NaiveDate, seen_from: NaiveDate) -> String {
    match (day - seen_from).num_days() {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        _ if day.year() == seen_from.year() => day.format("%a %-d %b").to_string(),
        _ => day.format("%-d %b %Y").to_string(),
    }
}

/// A use-by as seen from another day: `Fri 28 Aug`, and where that is over `Fri 28 Aug, past` or
/// `Fri 28 Aug, 3 months past`.
pub(crate) fn use_by(last: NaiveDate, seen_from: NaiveDate) -> String {
    let over = (seen_from - last).num_days();
    let said = day(last, seen_from);
    match usize::try_from(over / 30).unwrap_or(0) {
        _ if over <= 0 => said,
        0 => format!("{said}, past"),
        months => format!("{said}, {} past", counted(months, "month", "months")),
    }
}

/// `1 job`, `2 jobs`.
pub(crate) fn counted(number: usize, one: &str, more: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {more}") }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn metric(number: f64, unit: Unit) -> String {
        quantity(number, unit, UnitSystem::Metric, Digits::Two)
    }

    #[test]
    fn metric_quantities_are_short() {
        assert_eq!(metric(1250.0, Unit::Ml), "1.2 L");
        assert_eq!(metric(5000.0, Unit::Ml), "5 L");
        assert_eq!(metric(352.0, Unit::Ml), "350 mL");
        assert_eq!(metric(31.4, Unit::Ml), "31 mL");
        assert_eq!(metric(3.12, Unit::Ml), "3.1 mL");
        assert_eq!(metric(0.31, Unit::Ml), "0.31 mL");
        assert_eq!(metric(0.0, Unit::Ml), "0 mL");
        assert_eq!(metric(999.0, Unit::Ml), "1 L");
        assert_eq!(metric(1.0, Unit::Gal), "3.8 L");
        assert_eq!(metric(0.25, Unit::Kg), "250 g");
        assert_eq!(metric(12.0, Unit::M), "12 m");
    }

    #[test]
    fn us_quantities_are_in_us_units() {
        let us = |n, unit| quantity(n, unit, UnitSystem::Us, Digits::Two);
        assert_eq!(us(118.294, Unit::Ml), "4 fl oz");
        assert_eq!(us(5000.0, Unit::Ml), "1.3 gal");
        assert_eq!(us(500.0, Unit::G), "1.1 lb");
        assert_eq!(us(3.0, Unit::Each), "3 pieces");
        assert_eq!(us(2.0, Unit::M), "6.6 ft");
    }

    #[test]
    fn pieces_are_not_rounded_to_tens() {
        assert_eq!(metric(128.0, Unit::Each), "128 pieces");
        assert_eq!(metric(2.5, Unit::Each), "2.5 pieces");
        assert_eq!(metric(1.0, Unit::Each), "1 piece");
        assert_eq!(metric(-0.0, Unit::Each), "0 pieces");
    }

    #[test]
    fn three_figures_where_a_sum_is_followed() {
        let fine = |n| quantity(n, Unit::Ml, UnitSystem::Metric, Digits::Three);
        assert_eq!(fine(1250.0), "1.25 L");
        assert_eq!(fine(352.4), "352 mL");
        assert_eq!(fine(31.42), "31.4 mL");
    }

    #[test]
    fn what_is_added_up_stands_in_one_unit() {
        let sum = |numbers: &[f64]| in_one_unit(numbers, Unit::Ml, UnitSystem::Metric);
        assert_eq!(sum(&[1210.0, 890.0, 2100.0]), ["1.21 L", "0.89 L", "2.10 L"]);
        assert_eq!(sum(&[12.5, 0.0, 300.0]), ["12 mL", "0 mL", "300 mL"]);
        assert_eq!(sum(&[0.0, 0.0]), ["0 mL", "0 mL"]);
    }

    #[test]
    fn shares_add_up_as_they_stand() {
        let (parts, all) = shares(&[0.2026, 0.0649, 0.0004]);
        assert_eq!((parts.join(" "), all.as_str()), ("20.3% 6.5% 0.0%".to_owned(), "26.8%"));
    }

    #[test]
    fn a_sum_has_signs_and_adds_up() {
        use capful_forecast::plan::AmountIn;
        let row = |sign, amount| Summand {
            sign,
            part: "",
            amount: AmountIn { amount, unit: "mL" },
            fills: false,
        };
        let rows = [
            row(Sign::Plus, 31.04),
            row(Sign::Plus, -2.04),
            row(Sign::Minus, 40.04),
            row(Sign::Is, -11.04),
        ];
        let shown = sum(&rows, UnitSystem::Metric);
        let text: Vec<String> = shown.iter().map(|(sign, n)| format!("{sign}{n}")).collect();
        assert_eq!(text, ["31.0 mL", "−2.0 mL", "−40.0 mL", "=−11.0 mL"]);
    }

    #[test]
    fn a_chance_is_never_said_to_be_surer_than_it_is() {
        let said = [0.0, 0.004, 0.07, 0.93, 0.996, 1.0].map(chance);
        assert_eq!(said, ["<1%", "<1%", "7%", "93%", ">99%", ">99%"]);
    }

    #[test]
    fn days_are_said_from_where_one_stands() {
        let date = |m, d| NaiveDate::from_ymd_opt(2026, m, d).unwrap();
        assert_eq!(day(date(3, 2), date(3, 2)), "today");
        assert_eq!(day(date(3, 3), date(3, 2)), "tomorrow");
        assert_eq!(day(date(3, 5), date(3, 2)), "Thu 5 Mar");
        let good_until = |m, d| use_by(date(m, d), date(7, 2));
        assert_eq!(good_until(7, 2), "today");
        assert_eq!(good_until(6, 30), "Tue 30 Jun, past");
        assert_eq!(good_until(5, 29), "Fri 29 May, 1 month past");
        let to = |m, d| span(date(3, 6), date(m, d), date(3, 2));
        assert_eq!([to(3, 6), to(3, 9)], ["Fri 6 Mar", "6 to 9 Mar"]);
        assert_eq!(to(4, 1), "6 Mar to 1 Apr");
        assert_eq!(span(date(3, 3), date(3, 6), date(3, 2)), "tomorrow to 6 Mar");
        let new_year = NaiveDate::from_ymd_opt(2027, 1, 2).unwrap();
        assert_eq!(day(new_year, date(12, 30)), "2 Jan 2027");
    }
}
