//! `shop.toml`: the shop's settings, each wrong one told with its line and key.

use std::collections::{BTreeSet, HashSet};
use std::fmt::Write as _;
use std::ops::Range;

use capful_domain::{Currency, Money, Shop, UnitSystem, VehicleSize, Word};
use chrono::{NaiveDate, Weekday};
use chrono_tz::Tz;
use rust_decimal::Decimal;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::cells::{self, Parsed, Wrong, expected, write_day};
use crate::problem::{Findings, Problem};

/// The file's name.
pub(crate) const SHOP_TOML: &str = "shop.toml";

/// Reads the settings. What is wrong is told and stands at its default in the shop that comes
/// back, so that the other files can be checked all the same.
pub(crate) fn read_shop(text: &str, findings: &mut Findings) -> Shop {
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut reader = Reader::of(text, findings);
    for error in errors {
        let place = error.span().unwrap_or_default();
        let line_text = reader.line_text(&place);
        let expected = format!("TOML ({})", error.message().lines().collect::<Vec<_>>().join(", "));
        reader.problem(&place, "", line_text, &expected);
    }
    let whole = reader.findings.is_sound();
    let settings = Settings { table: table.get_ref(), prefix: "", whole };
    reader.warn_of_unknown(&settings, &KEYS);
    shop(&mut reader, &settings)
}

const KEYS: [&str; 13] = [
    "name",
    "timezone",
    "currency",
    "units",
    "order_weekday",
    "closed",
    "closed_days",
    "stall_cost",
    "holding_rate",
    "service",
    "budget",
    "sizes",
    "conditions",
];

fn shop(reader: &mut Reader, settings: &Settings) -> Shop {
    let name = reader.required(settings, "name", |v| text(v, cells::text));
    let timezone = reader.required(settings, "timezone", |v| text(v, cells::timezone));
    let currency = reader.required(settings, "currency", |v| text(v, cells::currency));
    let currency = currency.unwrap_or(Currency::NONE);
    let mut shop = Shop::new(&name.unwrap_or_default(), timezone.unwrap_or(Tz::UTC), currency);
    let money = |value: &DeValue| number(value, |text| cells::money(text, currency));
    let units = reader.optional(settings, "units", |v| text(v, cells::word::<UnitSystem>));
    let weekday = reader.optional(settings, "order_weekday", |v| text(v, cells::word));
    let closed = reader.optional(settings, "closed", closed);
    let days = reader.optional(settings, "closed_days", |v| list(v, day));
    let stall_cost = reader.optional(settings, "stall_cost", money);
    let holding_rate = reader.optional(settings, "holding_rate", |v| number(v, cells::decimal));
    let service = reader.optional(settings, "service", |v| number(v, cells::chance));
    let budget = reader.optional(settings, "budget", money);
    shop.units = units.unwrap_or(shop.units);
    shop.order_weekday = weekday.unwrap_or(shop.order_weekday);
    shop.closed = closed.unwrap_or(shop.closed);
    shop.closed_days = days.map(BTreeSet::from_iter).unwrap_or_default();
    if let Some(stall_cost) = stall_cost {
        shop.stall_cost = reader.nearest(settings, "stall_cost", stall_cost, currency);
    }
    shop.holding_rate = holding_rate.unwrap_or(shop.holding_rate);
    shop.service = service.unwrap_or(shop.service);
    let budget = budget.map(|budget| reader.nearest(settings, "budget", budget, currency));
    shop.budget = budget.filter(|budget| *budget != Money::ZERO);
    let sizes = VehicleSize::ALL.map(Word::word);
    reader.factors(settings, "sizes", &sizes, &mut shop.size_factors);
    reader.factors(settings, "conditions", &GRADES, &mut shop.condition_factors);
    shop
}

const GRADES: [&str; 5] = ["1", "2", "3", "4", "5"];

/// One table of the file.
struct Settings<'t> {
    table: &'t DeTable<'t>,
    /// Stands before the keys when they are named: `sizes.`.
    prefix: &'static str,
    /// Whether the file is TOML at all, so that a key that is missing is missing.
    whole: bool,
}

struct Reader<'t> {
    text: &'t str,
    findings: &'t mut Findings,
    /// Where each line but the first begins.
    line_starts: Vec<usize>,
    /// Lines that are no TOML, which is told of each as a whole.
    broken_lines: HashSet<u64>,
}

impl<'t> Reader<'t> {
    fn of(text: &'t str, findings: &'t mut Findings) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        let line_starts = ends.map(|(end, _)| end + 1).collect();
        Self { text, findings, line_starts, broken_lines: HashSet::new() }
    }

    fn line(&self, place: &Range<usize>) -> usize {
        self.line_starts.partition_point(|start| *start <= place.start) + 1
    }

    /// The text of the line that something stands on.
    fn line_text(&self, place: &Range<usize>) -> &'t str {
        let line = self.line(place);
        let start = line.checked_sub(2).and_then(|before| self.line_starts.get(before).copied());
        let rest = self.text.get(start.unwrap_or(0)..).unwrap_or_default();
        rest.lines().next().unwrap_or_default()
    }

    fn problem(&mut self, place: &Range<usize>, key: &str, found: &str, expected: &str) {
        let line = self.line(place) as u64;
        // What a line that is no TOML was taken for is not worth telling.
        if self.broken_lines.contains(&line) {
            return;
        }
        if key.is_empty() {
            self.broken_lines.insert(line);
        }
        self.findings.tell(Problem::new(SHOP_TOML, line, key, found, expected));
    }

    fn warn_of_unknown(&mut self, settings: &Settings, known: &[&str]) {
        for key in settings.table.keys() {
            if !known.contains(&key.get_ref().as_ref()) {
                let (line, key) = (self.line(&key.span()) as u64, key.get_ref());
                let name = format!("{}{key}", settings.prefix);
                self.findings.warn(SHOP_TOML, line, &name, "unknown key, not read");
            }
        }
    }

    fn required<T>(
        &mut self,
        settings: &Settings,
        key: &str,
        parse: impl FnOnce(&DeValue) -> Parsed<T>,
    ) -> Option<T> {
        if settings.whole && !settings.table.contains_key(key) {
            self.problem(&(0..0), key, "", "this key");
        }
        self.optional(settings, key, parse)
    }

    fn optional<T>(
        &mut self,
        settings: &Settings,
        key: &str,
        parse: impl FnOnce(&DeValue) -> Parsed<T>,
    ) -> Option<T> {
        let value = settings.table.get(key)?;
        match parse(value.get_ref()) {
            Ok(value) => return Some(value),
            Err(Wrong::ToldElsewhere) => {}
            Err(Wrong::Expected(expected)) => {
                let name = format!("{}{key}", settings.prefix);
                let source = self.text.get(value.span()).unwrap_or_default();
                let found = value.get_ref().as_str().unwrap_or(source);
                self.problem(&value.span(), &name, found, &expected);
            }
        }
        None
    }

    fn nearest(
        &mut self,
        settings: &Settings,
        key: &str,
        (money, exact): (Money, bool),
        currency: Currency,
    ) -> Money {
        if !exact {
            let place = settings.table.get(key).map(Spanned::span).unwrap_or_default();
            let line = self.line(&place) as u64;
            self.findings.warn(SHOP_TOML, line, key, &cells::read_to_nearest(money, currency));
        }
        money
    }

    fn factors(
        &mut self,
        settings: &Settings,
        key: &'static str,
        names: &[&str],
        factors: &mut [Decimal],
    ) {
        let Some(value) = settings.table.get(key) else {
            return;
        };
        let DeValue::Table(table) = value.get_ref() else {
            let found = self.text.get(value.span()).unwrap_or_default();
            self.problem(&value.span(), key, found, &format!("a table: [{key}]"));
            return;
        };
        let prefix = if key == "sizes" { "sizes." } else { "conditions." };
        let inner = Settings { table, prefix, whole: settings.whole };
        self.warn_of_unknown(&inner, names);
        for (name, factor) in names.iter().zip(factors) {
            let read = self.optional(&inner, name, |v| number(v, cells::decimal_above_zero));
            *factor = read.unwrap_or(*factor);
        }
    }
}

fn text<T>(value: &DeValue, parse: impl FnOnce(&str) -> Parsed<T>) -> Parsed<T> {
    match value.as_str() {
        Some(text) => parse(text),
        None => match parse("") {
            Err(Wrong::Expected(what)) => expected(format!("{what} in quotes")),
            _ => expected("a text in quotes"),
        },
    }
}

fn number<T>(value: &DeValue, parse: impl FnOnce(&str) -> Parsed<T>) -> Parsed<T> {
    match value {
        DeValue::Float(float) => parse(float.as_str()),
        DeValue::Integer(integer) if integer.radix() == 10 => parse(integer.as_str()),
        DeValue::String(_) => expected("a decimal number such as 12.5, without quotes"),
        _ => expected("a decimal number such as 12.5"),
    }
}

fn list<T>(value: &DeValue, parse: impl Fn(&DeValue) -> Parsed<T>) -> Parsed<Vec<T>> {
    let Some(items) = value.as_array() else {
        return expected("a list in [ ]");
    };
    let named = |item: &DeValue, wrong| match (wrong, item.as_str()) {
        (Wrong::Expected(what), Some(text)) => cells::in_place_of(&what, text),
        (wrong, _) => wrong,
    };
    let items = items.iter().map(Spanned::get_ref);
    items.map(|item| parse(item).map_err(|wrong| named(item, wrong))).collect()
}

fn closed(value: &DeValue) -> Parsed<Vec<Weekday>> {
    let days = list(value, |item| text(item, cells::word::<Weekday>))?;
    let all = Weekday::WORDS.iter().all(|(_, day)| days.contains(day));
    if all { expected("at least one weekday left open") } else { Ok(days) }
}

/// A day in quotes, or as TOML's own date.
fn day(value: &DeValue) -> Parsed<NaiveDate> {
    match value.as_datetime() {
        Some(day) => cells::day(&day.to_string()),
        None => text(value, cells::day),
    }
}

/// The file for a shop, with every key.
pub(crate) fn write_shop(shop: &Shop) -> String {
    let quote = |text: &str| toml::Value::from(text).to_string();
    let quoted =
        |texts: Vec<String>| texts.iter().map(|text| quote(text)).collect::<Vec<_>>().join(", ");
    let money = |money: Money| money.to_decimal(shop.currency);
    let closed = quoted(shop.closed.iter().map(|day| day.word().to_owned()).collect());
    let closed_days = quoted(shop.closed_days.iter().map(|day| write_day(*day)).collect());
    let mut lines = vec![
        format!("name = {}", quote(&shop.name)),
        format!("timezone = {}", quote(shop.timezone.name())),
        format!("currency = {}", quote(shop.currency.code())),
        format!("units = {}", quote(shop.units.word())),
        format!("order_weekday = {}", quote(shop.order_weekday.word())),
        format!("closed = [{closed}]"),
        format!("closed_days = [{closed_days}]"),
        format!("stall_cost = {}", money(shop.stall_cost)),
        format!("holding_rate = {}", shop.holding_rate),
        format!("service = {}", shop.service),
        format!("budget = {}", money(shop.budget.unwrap_or_default())),
    ];
    let sizes = VehicleSize::ALL.map(Word::word);
    lines.extend(factor_lines("sizes", &sizes, &shop.size_factors));
    lines.extend(factor_lines("conditions", &GRADES, &shop.condition_factors));
    lines.into_iter().fold(String::new(), |mut text, line| {
        let _ = writeln!(text, "{line}"); // a String takes everything
        text
    })
}

fn factor_lines(table: &str, names: &[&str], factors: &[Decimal]) -> Vec<String> {
    let header = [String::new(), format!("[{table}]")];
    let lines = names.iter().zip(factors).map(|(name, factor)| format!("{name} = {factor}"));
    header.into_iter().chain(lines).collect()
}
