//! The moments that people and programs ask about: a day, a time on the shop's clock, a moment.

use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, NaiveDate, NaiveDateTime, SecondsFormat, Utc};

use crate::shop::Shop;

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
        let local = |format| NaiveDateTime::parse_from_str(text, format);
        if let Ok(day) = NaiveDate::parse_from_str(text, "%Y-%m-%d") {
            Ok(Self::Day(day))
        } else if let Ok(moment) = DateTime::parse_from_rfc3339(text) {
            Ok(Self::Moment(moment.to_utc()))
        } else {
            let time = local("%Y-%m-%dT%H:%M").or_else(|_| local("%Y-%m-%dT%H:%M:%S"));
            time.map(Self::Local).map_err(|_| NotAMoment)
        }
    }
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
    }
}
