//! What a single cell may hold: texts into values, and what was expected where one is wrong.
//!
//! The same rules hold wherever a shop's rows are written as texts.

use capful_domain::{Condition, Currency, Id, Money, Quantity, Ratio, Shop, Unit, Word, YEARS};
use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, Utc};
use chrono_tz::Tz;
use rust_decimal::Decimal;

/// Why a cell has no value.
#[derive(Debug)]
pub enum Wrong {
    /// What should stand there.
    Expected(String),
    /// It follows from something wrong that is told at its own place.
    ToldElsewhere,
}

/// The value of a cell, or what should stand there.
pub type Parsed<T> = Result<T, Wrong>;

/// A cell that should hold something else.
pub fn expected<T>(what: impl Into<String>) -> Parsed<T> {
    Err(Wrong::Expected(what.into()))
}

/// Most containers or packs in a row: what a slip of the keyboard must not exceed.
pub const MOST_CONTAINERS: u32 = 10_000;
/// Most days in a span.
pub const MOST_DAYS: u32 = 36_500;

/// Most of any number: more of a bottle's content than there is, and little enough that a ledger
/// of many thousand such rows still adds up.
pub const MOST_NUMBER: u64 = 1_000_000_000;
/// Most money in a cell, in whole units of the currency.
pub const MOST_MONEY: u64 = 1_000_000_000_000;

/// Most characters in a text.
pub const MOST_TEXT: usize = 500;
/// Most characters in notes.
pub const MOST_NOTES: usize = 5_000;

/// The shop's own id of a row.
pub fn id(text: &str) -> Parsed<Id> {
    Id::parse(text).or_else(|wrong| expected(wrong.to_string()))
}

/// A text of one line with something in it.
pub fn text(text: &str) -> Parsed<String> {
    if text.chars().any(char::is_control) {
        return expected("a text of one line, without control characters");
    }
    filled(text, MOST_TEXT)
}

/// A longer text with something in it, which may have lines and tabs.
pub fn notes(text: &str) -> Parsed<String> {
    let lines = text.replace("\r\n", "\n");
    if lines.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
        return expected("a text without control characters but line ends and tabs");
    }
    filled(text, MOST_NOTES)
}

fn filled(text: &str, most: usize) -> Parsed<String> {
    if text.trim().is_empty() {
        return expected("a text");
    }
    if text.chars().count() > most {
        return expected(format!("a text of at most {most} characters"));
    }
    Ok(text.to_owned())
}

/// A plain decimal, not negative: no exponent, no thousands separator, no sign.
pub fn decimal(text: &str) -> Parsed<Decimal> {
    decimal_up_to(text, MOST_NUMBER)
}

fn decimal_up_to(text: &str, most: u64) -> Parsed<Decimal> {
    if text.strip_prefix('-').is_some_and(is_plain_decimal) {
        return expected("a decimal number that is not negative");
    }
    if !is_plain_decimal(text) {
        return expected("a decimal number such as 12.5");
    }
    match text.parse() {
        Ok(number) if number <= Decimal::from(most) => Ok(number),
        _ => expected(format!("a decimal number, at most {most}")),
    }
}

fn is_plain_decimal(text: &str) -> bool {
    let (whole, parts) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    digits(whole) && digits(parts)
}

/// A plain decimal above 0.
pub fn decimal_above_zero(text: &str) -> Parsed<Decimal> {
    let number = decimal(text)?;
    if number.is_zero() { expected("a decimal number above 0") } else { Ok(number) }
}

/// A weight in grams that the ledger can hold.
pub fn grams(text: &str) -> Parsed<Decimal> {
    let number = decimal(text)?;
    match Quantity::from_unit(number, Unit::G) {
        Ok(_) => Ok(number),
        Err(wrong) => expected(wrong.to_string()),
    }
}

/// A share from 0 to 1.
pub fn share(text: &str) -> Parsed<Decimal> {
    match decimal(text) {
        Ok(number) if number <= Decimal::ONE => Ok(number),
        _ => expected("a share from 0 to 1, such as 0.25"),
    }
}

/// A chance that is neither none nor certain.
pub fn chance(text: &str) -> Parsed<Decimal> {
    match decimal(text) {
        Ok(number) if !number.is_zero() && number < Decimal::ONE => Ok(number),
        _ => expected("a share above 0 and below 1, such as 0.95"),
    }
}

/// A time zone of the IANA's list.
pub fn timezone(text: &str) -> Parsed<Tz> {
    text.parse().or_else(|_| expected("an IANA time zone such as America/Halifax"))
}

/// A currency's code.
pub fn currency(text: &str) -> Parsed<Currency> {
    Currency::parse(text).map_or_else(|| expected("an ISO 4217 currency such as CAD"), Ok)
}

/// A whole number of containers or packs, from 1.
pub fn containers(text: &str) -> Parsed<u32> {
    whole(text, 1, MOST_CONTAINERS)
}

/// A whole number of containers, from 0.
pub fn containers_or_none(text: &str) -> Parsed<u32> {
    whole(text, 0, MOST_CONTAINERS)
}

/// A whole number of days.
pub fn days(text: &str) -> Parsed<u32> {
    whole(text, 0, MOST_DAYS)
}

/// A whole number of days, from 1.
pub fn days_from_one(text: &str) -> Parsed<u32> {
    whole(text, 1, MOST_DAYS)
}

/// A number of days, which may have decimals.
pub fn days_and_parts(text: &str) -> Parsed<Decimal> {
    match decimal(text) {
        Ok(number) if number > Decimal::from(MOST_DAYS) => {
            expected(format!("a number of days, at most {MOST_DAYS}"))
        }
        parsed => parsed,
    }
}

fn whole(text: &str, least: u32, most: u32) -> Parsed<u32> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    match text.parse::<u32>() {
        Ok(number) if digits && (least..=most).contains(&number) => Ok(number),
        _ => expected(format!("a whole number from {least} to {most}")),
    }
}

/// Money to the nearest minor unit, and whether that is exactly what was written.
pub fn money(text: &str, currency: Currency) -> Parsed<(Money, bool)> {
    let number = decimal_up_to(text, MOST_MONEY)?;
    match Money::from_decimal(number, currency) {
        Some(money) => Ok((money, money.to_decimal(currency) == number)),
        None => expected("a smaller amount of money"),
    }
}

/// What is said of money that is finer than the currency.
pub fn read_to_nearest(money: Money, currency: Currency) -> String {
    format!("finer than {currency} is counted, read as {}", money.to_decimal(currency))
}

/// A condition grade.
pub fn condition(text: &str) -> Parsed<Condition> {
    let grade = whole(text, 1, 5)?;
    match u8::try_from(grade).ok().and_then(Condition::new) {
        Some(condition) => Ok(condition),
        None => expected("a whole number from 1 to 5"),
    }
}

/// A unit that quantities are written in.
pub fn unit(text: &str) -> Parsed<Unit> {
    match Unit::parse(text) {
        Some(unit) => Ok(unit),
        None => expected(format!("a unit: {}", Unit::ALL.map(Unit::symbol).join(", "))),
    }
}

/// Parts of water to one part of product.
pub fn ratio(text: &str) -> Parsed<Ratio> {
    match decimal(text).map(Ratio::from_water) {
        Ok(Ok(ratio)) => Ok(ratio),
        _ => expected(capful_domain::NotARatio.to_string()),
    }
}

/// One word out of a fixed list.
pub fn word<T: Word>(text: &str) -> Parsed<T> {
    match T::from_word(text) {
        Some(value) => Ok(value),
        None => {
            let words = T::WORDS.iter().map(|(word, _)| *word).collect::<Vec<_>>();
            expected(format!("one of {}", words.join(", ")))
        }
    }
}

/// `yes`.
pub fn yes(text: &str) -> Parsed<bool> {
    if text == "yes" { Ok(true) } else { expected("yes or nothing") }
}

/// Items with `;` between, each read by `parse`; the first wrong one is told.
pub fn list<T>(text: &str, parse: impl Fn(&str) -> Parsed<T>) -> Parsed<Vec<T>> {
    let named = |item: &str, wrong| match wrong {
        Wrong::Expected(what) if item != text => in_place_of(&what, item),
        wrong => wrong,
    };
    let items = text.split(';').map(str::trim);
    items.map(|item| parse(item).map_err(|wrong| named(item, wrong))).collect()
}

/// One item of a list that should be something else.
pub fn in_place_of(what: &str, item: &str) -> Wrong {
    Wrong::Expected(format!("{what} in place of {item:?}"))
}

/// A GTIN of 8, 12, 13 or 14 digits whose last one is right: with weights 3, 1, 3, … from the
/// right, the check digit's own being 1, the digits add up to a multiple of ten (GS1 General
/// Specifications).
pub fn gtin(text: &str) -> Parsed<String> {
    let length = matches!(text.len(), 8 | 12 | 13 | 14);
    if !length || !text.bytes().all(|b| b.is_ascii_digit()) {
        return expected("a GTIN of 8, 12, 13 or 14 digits");
    }
    let digits = text.bytes().rev().map(|b| u32::from(b - b'0'));
    let sum: u32 =
        digits.zip([1, 3].into_iter().cycle()).map(|(digit, weight)| digit * weight).sum();
    if sum.is_multiple_of(10) {
        Ok(text.to_owned())
    } else {
        expected("a GTIN whose check digit is right")
    }
}

const DAY: &str = "a day such as 2026-03-02";
const TIME: &str = "a time such as 2026-03-02T14:30, 2026-03-02T14:30:00-04:00 or 2026-03-02";

/// A calendar day.
pub fn day(text: &str) -> Parsed<NaiveDate> {
    match plain_day(text) {
        Some(day) => Ok(day),
        None => expected(DAY),
    }
}

/// A moment: RFC 3339 with offset, or local time in the shop's zone, or the start of a day.
pub fn time(text: &str, shop: &Shop) -> Parsed<DateTime<Utc>> {
    if let Some(day) = plain_day(text) {
        return Ok(shop.start_of(day));
    }
    if let Some(local) = plain_time(text) {
        return Ok(shop.moment(local));
    }
    match DateTime::parse_from_rfc3339(text) {
        Ok(moment) if in_range(moment.year()) => Ok(moment.to_utc()),
        _ => expected(TIME),
    }
}

fn in_range(year: i32) -> bool {
    YEARS.contains(&year)
}

fn digits(text: &[u8]) -> Option<u32> {
    text.iter().try_fold(0, |sum, b| b.is_ascii_digit().then(|| sum * 10 + u32::from(b - b'0')))
}

fn plain_day(text: &str) -> Option<NaiveDate> {
    let [y1, y2, y3, y4, b'-', m1, m2, b'-', d1, d2] = *text.as_bytes() else {
        return None;
    };
    let year = i32::try_from(digits(&[y1, y2, y3, y4])?).ok()?;
    let day = NaiveDate::from_ymd_opt(year, digits(&[m1, m2])?, digits(&[d1, d2])?)?;
    in_range(year).then_some(day)
}

fn plain_time(text: &str) -> Option<NaiveDateTime> {
    let (day, clock) = text.split_once('T')?;
    let (hour, minute, second) = match *clock.as_bytes() {
        [h1, h2, b':', m1, m2] => ([h1, h2], [m1, m2], [b'0', b'0']),
        [h1, h2, b':', m1, m2, b':', s1, s2] => ([h1, h2], [m1, m2], [s1, s2]),
        _ => return None,
    };
    let clock = NaiveTime::from_hms_opt(digits(&hour)?, digits(&minute)?, digits(&second)?)?;
    Some(plain_day(day)?.and_time(clock))
}

/// A moment, as short as the shop's zone lets it be read back the same.
pub fn write_time(moment: DateTime<Utc>, shop: &Shop) -> String {
    let local = moment.with_timezone(&shop.timezone);
    if shop.start_of(local.date_naive()) == moment {
        return write_day(local.date_naive());
    }
    let minute = local.format("%Y-%m-%dT%H:%M").to_string();
    let again = plain_time(&minute).map(|time| time.and_local_timezone(shop.timezone).single());
    if again.flatten() == Some(local) {
        return minute;
    }
    local.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, false)
}

/// A calendar day, as it is read.
pub fn write_day(day: NaiveDate) -> String {
    day.format("%Y-%m-%d").to_string()
}
