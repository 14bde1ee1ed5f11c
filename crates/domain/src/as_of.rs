//! The moments that people and programs ask about: a day, a time on the shop's clock, a moment.

use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, SecondsFormat, Utc};

use crate::shop::Shop;

/// The years that days and times may lie in.
pub const YEARS: RangeInclusive<i32> = 1970..=9999;

/// A moment as it is written for a question "as of".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AsOf {
    /// A day: its first moment in the shop's zone.
    Day(NaiveDate),
    /// A time on the shop's own clock.
    Local(NaiveDateTime),
    /// A time with its offset.
    Moment(DateTime<Utc>),
}

/// A text that names no moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "a day such as 2026-03-02, or a time such as 2026-03-02T14:30 or 2026-03-02T14:30:00-04:00"
)]
pub struct NotAMoment;

impl FromStr for AsOf {
    type Err = NotAMoment;

    fn from_str(text: &str) -> Result<Self, NotAMoment> {
        let local = |format| NaiveDateTime::parse_from_str(text, format).ok();
        // chrono's own formats take fewer digits, signs and spaces too.
        let (year, read) = if has_shape(text, "0000-00-00") {
            let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok();
            (day.map(|day| day.year()), day.map(Self::Day))
        } else if has_shape(text, "0000-00-00T00:00") {
            let time = local("%Y-%m-%dT%H:%M");
            (time.map(|time| time.year()), time.map(Self::Local))
        } else if has_shape(text, "0000-00-00T00:00:00") && !text.ends_with(":60") {
            let time = local("%Y-%m-%dT%H:%M:%S");
            (time.map(|time| time.year()), time.map(Self::Local))
        } else {
            let moment = DateTime::parse_from_rfc3339(text).ok();
            let year = moment.map(|moment| moment.year());
            (year, moment.map(|moment| Self::Moment(moment.to_utc())))
        };
        read.filter(|_| year.is_some_and(|year| YEARS.contains(&year))).ok_or(NotAMoment)
    }
}

/// Whether a text is written like another one, with a digit wherever that has a `0`.
fn has_shape(text: &str, shape: &str) -> bool {
    let same = |(own, like): (u8, u8)| own == like || like == b'0' && own.is_ascii_digit();
    text.len() == shape.len() && text.bytes().zip(shape.bytes()).all(same)
}

impl fmt::Display for AsOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Day(day) => write!(f, "{day}"),
            Self::Local(time) => write!(f, "{}", time.format("%Y-%m-%dT%H:%M:%S")),
            Self::Moment(at) => f.write_str(&at.to_rfc3339_opts(SecondsFormat::AutoSi, true)),
        }
    }
}

impl AsOf {
    /// The moment meant in this shop.
    #[must_use]
    pub fn moment(self, shop: &Shop) -> DateTime<Utc> {
        match self {
            Self::Day(day) => shop.start_of(day),
            Self::Local(time) => shop.moment(time),
            Self::Moment(moment) => moment,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::money::Currency;

    fn moment(text: &str) -> String {
        let currency = Currency::parse("CAD").unwrap();
        let shop = Shop::new("Two Gulls", chrono_tz::America::Halifax, currency);
        text.parse::<AsOf>().unwrap().moment(&shop).to_rfc3339()
    }

    #[test]
    fn a_day_is_its_first_moment_in_the_shops_zone() {
        assert_eq!(moment("2026-03-02"), "2026-03-02T04:00:00+00:00");
        assert_eq!(moment("2026-07-02"), "2026-07-02T03:00:00+00:00");
    }

    #[test]
    fn a_time_without_an_offset_is_on_the_shops_clock() {
        assert_eq!(moment("2026-03-02T14:30"), "2026-03-02T18:30:00+00:00");
        assert_eq!(moment("2026-03-02T14:30:05"), "2026-03-02T18:30:05+00:00");
        assert_eq!(moment("2026-03-02T14:30:00+01:00"), "2026-03-02T13:30:00+00:00");
    }

    #[test]
    fn a_moment_is_written_as_it_is_read() {
        for text in ["2026-03-02", "2026-03-02T14:30:05", "2026-03-02T14:30:05.250Z"] {
            assert_eq!(text.parse::<AsOf>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn anything_else_is_no_moment() {
        for text in ["", "tomorrow", "2026-02-30", "02/03/2026", "2026-03-02 14:30", "2026-3"] {
            assert_eq!(text.parse::<AsOf>(), Err(NotAMoment), "{text:?}");
        }
        // Days that no shop has, and that a calendar runs out of: what is worked out from them
        // has to look a year and more ahead.
        for text in ["2026-3-2", "+12026-03-02", " 2026-03-02", "262142-12-31", "1969-12-31"] {
            assert_eq!(text.parse::<AsOf>(), Err(NotAMoment), "{text:?}");
        }
        for text in ["2026-03-02T9:05", "2026-03-02T14:30:60", "0001-01-01T00:00:00Z"] {
            assert_eq!(text.parse::<AsOf>(), Err(NotAMoment), "{text:?}");
        }
    }
}
