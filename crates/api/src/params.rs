//! What stands behind the `?` of an address: read whole, or refused with what would be right.

use std::fmt::Display;
use std::str::FromStr;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use capful_domain::{AsOf, ContainerId, Id, Shop, Word};
use capful_folder::cells;
use chrono::{DateTime, NaiveDate, Utc};
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer};
use utoipa::IntoParams;

use crate::problem::Problem;
use crate::schema;

/// The query of a request. A name that it does not know is refused, so that a slip of the pen is
/// not an answer to another question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Params<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Params<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        read(parts.uri.query().unwrap_or_default()).map(Self)
    }
}

pub(crate) fn read<T: DeserializeOwned>(query: &str) -> Result<T, Problem> {
    let pairs = form_urlencoded::parse(query.as_bytes());
    let reader = serde_urlencoded::Deserializer::new(pairs);
    serde_path_to_error::deserialize(reader).map_err(|error| {
        let field = error.path().to_string();
        let text = error.into_inner().to_string();
        Problem::query(if field == "." { "" } else { &field }, text)
    })
}

/// A value of the query by its own rules of reading; an empty one is none.
pub(crate) fn parsed<'de, D, T>(reader: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr,
    T::Err: Display,
{
    let text = String::deserialize(reader)?;
    if text.is_empty() {
        return Ok(None);
    }
    let wrong = |expected| D::Error::custom(format!("found {text:?}, expected {expected}"));
    text.parse().map(Some).map_err(wrong)
}

/// A whole number, as it is written: digits and nothing else.
pub(crate) fn digits<T: FromStr>(text: &str) -> Option<T> {
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok())?
}

/// A calendar day as it is written in a query.
pub(crate) fn day<'de, D: Deserializer<'de>>(reader: D) -> Result<Option<NaiveDate>, D::Error> {
    let text = String::deserialize(reader)?;
    let wrong = |_| D::Error::custom(format!("found {text:?}, expected a day such as 2026-03-02"));
    if text.is_empty() { Ok(None) } else { cells::day(&text).map(Some).map_err(wrong) }
}

/// One word out of a fixed list.
pub(crate) fn word<'de, D, T>(reader: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: Word,
{
    let text = String::deserialize(reader)?;
    let words: Vec<&str> = T::WORDS.iter().map(|(word, _)| *word).collect();
    let wrong = || D::Error::custom(format!("found {text:?}, expected {}", words.join(", ")));
    if text.is_empty() { Ok(None) } else { T::from_word(&text).map(Some).ok_or_else(wrong) }
}

/// A container's name as it is written in a query.
pub(crate) fn container<'de, D>(reader: D) -> Result<Option<ContainerId>, D::Error>
where
    D: Deserializer<'de>,
{
    let text = String::deserialize(reader)?;
    let wrong = |_| {
        let rule = "a container's name, such as R-0412/1";
        D::Error::custom(format!("found {text:?}, expected {rule}"))
    };
    if text.is_empty() { Ok(None) } else { ContainerId::parse(&text).map(Some).map_err(wrong) }
}

/// A row's id as it is written in a query.
pub(crate) fn id<'de, D: Deserializer<'de>>(reader: D) -> Result<Option<Id>, D::Error> {
    let text = String::deserialize(reader)?;
    let wrong = |expected| D::Error::custom(format!("found {text:?}, expected {expected}"));
    if text.is_empty() { Ok(None) } else { Id::parse(&text).map(Some).map_err(wrong) }
}

/// When the answer is to be true.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct When {
    /// Answer as it would have been then: a day (its first moment in the shop's zone), or a time
    /// such as `2026-03-02T14:30` or `2026-03-02T14:30:00-04:00`. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
}

/// The seed of the futures that a plan draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Seed(pub u64);

impl Default for Seed {
    fn default() -> Self {
        Self(1)
    }
}

/// A text that is no seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a whole number from 0 to 18446744073709551615")]
pub(crate) struct NotASeed;

impl FromStr for Seed {
    type Err = NotASeed;

    fn from_str(text: &str) -> Result<Self, NotASeed> {
        digits(text).map(Self).ok_or(NotASeed)
    }
}

/// Which plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichPlan {
    /// Answer as it would have been then: a day (its first moment in the shop's zone), or a time
    /// such as `2026-03-02T14:30` or `2026-03-02T14:30:00-04:00`. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// The seed of the futures that are drawn: the same one gives the same plan. Without it: 1.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedSeed, required = false)]
    pub seed: Option<Seed>,
}

/// A question with two answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum YesOrNo {
    /// `yes`
    Yes,
    /// `no`
    No,
}

/// A text that is neither.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("`yes` or `no`")]
pub(crate) struct NeitherYesNorNo;

impl FromStr for YesOrNo {
    type Err = NeitherYesNorNo;

    fn from_str(text: &str) -> Result<Self, NeitherYesNorNo> {
        match text {
            "yes" => Ok(Self::Yes),
            "no" => Ok(Self::No),
            _ => Err(NeitherYesNorNo),
        }
    }
}

/// The moment that a question is about.
pub(crate) fn moment(as_of: Option<AsOf>, shop: &Shop) -> Option<DateTime<Utc>> {
    as_of.map(|as_of| as_of.moment(shop))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_read() {
        let when: When = read("as_of=2026-03-02").unwrap();
        assert_eq!(when.as_of, Some("2026-03-02".parse().unwrap()));
        assert_eq!(read::<When>("").unwrap(), When::default());
        assert_eq!(read::<When>("as_of=").unwrap(), When::default());
    }

    #[test]
    fn what_is_wrong_is_named_with_what_would_be_right() {
        let wrong = read::<When>("as_of=monday").unwrap_err();
        assert_eq!(wrong.field.as_deref(), Some("as_of"));
        assert!(wrong.detail.starts_with("found \"monday\", expected a day such as"), "{wrong:?}");
        let unknown = read::<When>("asof=2026-03-02").unwrap_err();
        assert!(unknown.detail.contains("expected `as_of`"), "{unknown:?}");
    }
}
