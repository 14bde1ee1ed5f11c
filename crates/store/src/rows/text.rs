//! What is kept as text and must come back as it was: decimals, words, ids and lists.

use std::str::FromStr;

use capful_domain::{Amount, ContainerId, Id, Ratio, Unit, Word};
use rust_decimal::Decimal;

/// A row that does not say what rows of its table say.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}: {text:?} cannot be read")]
pub struct Unreadable {
    what: &'static str,
    text: String,
}

impl Unreadable {
    pub(crate) fn new(what: &'static str, text: &str) -> Self {
        Self { what, text: text.to_owned() }
    }
}

pub(super) type Read<T> = Result<T, Unreadable>;

fn known<T>(what: &'static str, text: &str, value: Option<T>) -> Read<T> {
    value.ok_or_else(|| Unreadable::new(what, text))
}

pub(super) fn parsed<T: FromStr>(what: &'static str, text: &str) -> Read<T> {
    known(what, text, text.parse().ok())
}

pub(super) fn decimal(text: &str) -> Read<Decimal> {
    parsed("a decimal", text)
}

pub(super) fn id(text: &str) -> Read<Id> {
    known("an id", text, Id::parse(text).ok())
}

pub(super) fn container(text: &str) -> Read<ContainerId> {
    known("a container", text, ContainerId::parse(text).ok())
}

pub(super) fn word<T: Word>(text: &str) -> Read<T> {
    known("a word", text, T::from_word(text))
}

pub(super) fn unit(text: &str) -> Read<Unit> {
    known("a unit", text, Unit::parse(text))
}

pub(super) fn amount(number: &str, symbol: &str) -> Read<Amount> {
    Ok(Amount { number: decimal(number)?, unit: unit(symbol)? })
}

pub(super) fn maybe_amount(number: Option<&String>, unit: Option<&String>) -> Read<Option<Amount>> {
    number.zip(unit).map(|(number, unit)| amount(number, unit)).transpose()
}

pub(super) fn ratio(water: &str) -> Read<Ratio> {
    known("a ratio", water, decimal(water).ok().and_then(|water| Ratio::from_water(water).ok()))
}

/// Reads what may be empty.
pub(super) fn maybe<T>(text: Option<&String>, read: impl Fn(&str) -> Read<T>) -> Read<Option<T>> {
    text.map(|text| read(text)).transpose()
}

/// The text of what may be empty.
pub(super) fn texts<T: ToString>(value: Option<&T>) -> Option<String> {
    value.map(ToString::to_string)
}

/// A whole number out of one of a wider kind.
pub(super) fn whole<T: TryFrom<i64>>(number: i64) -> Read<T> {
    T::try_from(number).map_err(|_| Unreadable::new("a whole number", &number.to_string()))
}

pub(super) fn maybe_whole<T: TryFrom<i64>>(number: Option<i64>) -> Read<Option<T>> {
    number.map(whole).transpose()
}

/// A list as JSON, whatever its members hold.
pub(super) fn list_text<T: ToString>(list: impl IntoIterator<Item = T>) -> String {
    let texts = list.into_iter().map(|member| serde_json::Value::String(member.to_string()));
    serde_json::Value::Array(texts.collect()).to_string()
}

pub(super) fn list<T>(text: &str, read: impl Fn(&str) -> Read<T>) -> Read<Vec<T>> {
    let members: Option<Vec<String>> = serde_json::from_str(text).ok();
    let members = known("a list", text, members)?;
    members.iter().map(|member| read(member)).collect()
}
