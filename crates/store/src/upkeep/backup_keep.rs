//! Which of the copies that were made night by night are kept: some of the last days, some of the
//! last weeks, some of the last months.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Datelike, NaiveDate, Utc};

/// Copies that are kept at most of each kind.
const MOST: u32 = 1_000;

/// How many copies are kept, written as `7d 4w 12m`: of the last 7 days with a copy, the last 4
/// weeks (ISO 8601) and the last 12 months, the last copy of each. Days are of UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BackupKeep {
    /// Days.
    pub days: u32,
    /// Weeks.
    pub weeks: u32,
    /// Months.
    pub months: u32,
}

impl BackupKeep {
    /// Those of these copies that are no longer kept, the oldest first. What is later than `now` is
    /// of a clock that was wrong once: it counts for nothing and is kept.
    #[must_use]
    pub fn dropped(
        &self,
        copies: &BTreeSet<DateTime<Utc>>,
        now: DateTime<Utc>,
    ) -> Vec<DateTime<Utc>> {
        let past = || copies.iter().copied().filter(|at| *at <= now);
        let day = |at: DateTime<Utc>| at.date_naive();
        let week = |at: DateTime<Utc>| day(at).iso_week();
        let month = |at: DateTime<Utc>| day(at).with_day(1).unwrap_or(NaiveDate::MIN);
        let mut kept = last_of_each(past(), self.days, day);
        kept.extend(last_of_each(past(), self.weeks, week));
        kept.extend(last_of_each(past(), self.months, month));
        // The last copy of all is never thrown away.
        kept.extend(past().next_back());
        past().filter(|at| !kept.contains(at)).collect()
    }
}

/// The last copy of each of the last so many spans of time that have one.
fn last_of_each<S: PartialEq>(
    copies: impl DoubleEndedIterator<Item = DateTime<Utc>>,
    spans: u32,
    span: impl Fn(DateTime<Utc>) -> S,
) -> BTreeSet<DateTime<Utc>> {
    let (mut kept, mut left, mut last) = (BTreeSet::new(), spans, None);
    for at in copies.rev() {
        let own = span(at);
        if last.as_ref() == Some(&own) {
            continue;
        }
        if left == 0 {
            break;
        }
        left -= 1;
        kept.insert(at);
        last = Some(own);
    }
    kept
}

impl FromStr for BackupKeep {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "found {text:?}, expected such as \"7d 4w 12m\": days, weeks and months of which \
                 a copy is kept, from 0 to {MOST}, and not 0 of all"
            )
        };
        let mut read = Self::default();
        let mut seen = BTreeSet::new();
        for word in text.split_whitespace() {
            let (number, unit) = word.split_at_checked(word.len() - 1).ok_or_else(wrong)?;
            let is_number = number.bytes().all(|byte| byte.is_ascii_digit());
            let number = number.parse().ok().filter(|n| is_number && *n <= MOST);
            let number: u32 = number.ok_or_else(wrong)?;
            match unit {
                "d" => read.days = number,
                "w" => read.weeks = number,
                "m" => read.months = number,
                _ => return Err(wrong()),
            }
            if !seen.insert(unit) {
                return Err(wrong());
            }
        }
        match read == Self::default() {
            true => Err(wrong()),
            false => Ok(read),
        }
    }
}

impl fmt::Display for BackupKeep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}d {}w {}m", self.days, self.weeks, self.months)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use chrono::Days;

    fn night(day: &str) -> DateTime<Utc> {
        day.parse::<NaiveDate>().unwrap().and_hms_opt(2, 30, 0).unwrap().and_utc()
    }

    /// What is kept of a copy each night from one day to another, with the rule used each night.
    fn kept(rule: &str, from: &str, to: &str) -> Vec<String> {
        let rule: BackupKeep = rule.parse().unwrap();
        let (mut at, mut copies) = (night(from), BTreeSet::new());
        while at <= night(to) {
            copies.insert(at);
            for old in rule.dropped(&copies, at) {
                copies.remove(&old);
            }
            at = at.checked_add_days(Days::new(1)).unwrap();
        }
        copies.iter().map(|at| at.date_naive().to_string()).collect()
    }

    #[test]
    fn a_year_of_nights_leaves_days_weeks_and_months() {
        // 2026-12-31 is the Thursday of week 53; Sundays end the weeks before it.
        let nights = kept("7d 4w 12m", "2026-01-01", "2026-12-31");
        let expected = [
            "2026-01-31",
            "2026-02-28",
            "2026-03-31",
            "2026-04-30",
            "2026-05-31",
            "2026-06-30",
            "2026-07-31",
            "2026-08-31",
            "2026-09-30",
            "2026-10-31",
            "2026-11-30",
            "2026-12-13",
            "2026-12-20",
            "2026-12-25",
            "2026-12-26",
            "2026-12-27",
            "2026-12-28",
            "2026-12-29",
            "2026-12-30",
            "2026-12-31",
        ];
        assert_eq!(nights, expected);
    }

    #[test]
    fn a_week_that_holds_new_year_is_one_week() {
        // 2027-01-01 to 2027-01-03 are of 2026-W53.
        assert_eq!(kept("1w", "2026-12-21", "2027-01-03"), ["2027-01-03"]);
        let two = kept("2w", "2026-12-21", "2027-01-05");
        assert_eq!(two, ["2027-01-03", "2027-01-05"]);
    }

    #[test]
    fn copies_of_a_service_that_was_off_for_long_are_not_too_old() {
        let copies: BTreeSet<_> =
            ["2024-02-28", "2024-02-29", "2026-03-01"].into_iter().map(night).collect();
        let rule: BackupKeep = "2d".parse().unwrap();
        assert_eq!(rule.dropped(&copies, night("2026-03-01")), [night("2024-02-28")]);
    }

    #[test]
    fn several_copies_of_a_day_leave_the_last() {
        let morning = night("2026-03-02");
        let noon = morning + chrono::TimeDelta::hours(10);
        let copies = BTreeSet::from([morning, noon]);
        let rule: BackupKeep = "7d".parse().unwrap();
        assert_eq!(rule.dropped(&copies, noon), [morning]);
    }

    #[test]
    fn a_copy_of_a_clock_that_was_wrong_counts_for_nothing() {
        let (today, ahead) = (night("2026-03-02"), night("2031-01-01"));
        let copies = BTreeSet::from([night("2026-03-01"), today, ahead]);
        let rule: BackupKeep = "1d".parse().unwrap();
        assert_eq!(rule.dropped(&copies, today), [night("2026-03-01")]);
    }

    #[test]
    fn what_is_kept_is_read_as_it_is_written() {
        for text in ["7d 4w 12m", "1d 0w 0m", "0d 1w 1000m"] {
            assert_eq!(text.parse::<BackupKeep>().unwrap().to_string(), text);
        }
        assert_eq!("12m  7d".parse::<BackupKeep>().unwrap().to_string(), "7d 0w 12m");
        for odd in ["", "0d", "7", "d", "7d 7d", "-1d", "+1d", "7y", "1001d", "7 d", "7é"] {
            assert!(odd.parse::<BackupKeep>().is_err(), "{odd:?}");
        }
    }
}
