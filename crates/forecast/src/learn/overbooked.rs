//! How much of a calendar a plan looks at: no more jobs of a day than any shop does, and no more of
//! all of them than the futures have room for. What is past that is left out, and said.

use capful_domain::Snapshot;
use chrono::{Days, NaiveDate};

use crate::learn::booked_job::BookedJob;
use crate::plan::Warning;
use crate::plan::text::{counted, short_day};

/// Most booked jobs of one day that are looked at: several times what three bays do.
const MOST_A_DAY: usize = 100;
/// Most that booked jobs may take in one future, each product of each job counted.
const MOST_BOOKED_TAKINGS: usize = 10_000;
/// The same of jobs that are not booked yet.
pub(crate) const MOST_OTHER_TAKINGS: usize = 20_000;
/// Visits of one day that a future draws at most.
pub(crate) const MOST_VISITS_A_DAY: u64 = 100;

/// What a plan does not look at.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct LeftOut {
    /// Days ahead on which more jobs are booked than are looked at, and how many more.
    crowded: Vec<(i32, usize)>,
    /// Days ahead from which on booked jobs find no room, and how many they are.
    later: Option<(i32, usize)>,
    /// Days ahead from which on jobs not booked yet find no room.
    pub not_booked_from: Option<i32>,
}

/// The booked jobs that are looked at, of all of them by their day.
pub(crate) fn within_reach(booked: Vec<BookedJob>) -> (Vec<BookedJob>, LeftOut) {
    let mut left_out = LeftOut::default();
    let (mut day, mut of_day, mut takings) = (0, 0, 0);
    let mut reach = |job: &BookedJob| {
        if job.day != day {
            (day, of_day) = (job.day, 0);
        }
        of_day += 1;
        takings += job.units.len();
        if takings > MOST_BOOKED_TAKINGS {
            let (_, jobs) = left_out.later.get_or_insert((job.day, 0));
            *jobs += 1;
            return false;
        }
        if of_day > MOST_A_DAY {
            takings -= job.units.len();
            match left_out.crowded.last_mut() {
                Some((last, jobs)) if *last == job.day => *jobs += 1,
                _ => left_out.crowded.push((job.day, 1)),
            }
            return false;
        }
        true
    };
    let within = booked.into_iter().filter(|job| reach(job)).collect();
    (within, left_out)
}

impl LeftOut {
    /// What the reader should know of it.
    pub fn warnings(&self, snapshot: &Snapshot) -> Vec<Warning> {
        let today = snapshot.day;
        let texts = [self.crowded(today), self.later(today), self.not_booked(today)];
        let warning = |text| Warning { code: "jobs-left-out", product: None, text };
        texts.into_iter().flatten().map(warning).collect()
    }

    fn crowded(&self, today: NaiveDate) -> Option<String> {
        let (first, _) = self.crowded.first()?;
        let jobs: usize = self.crowded.iter().map(|(_, jobs)| jobs).sum();
        let days = match self.crowded.len() - 1 {
            0 => String::new(),
            more => format!(" and {}", counted(more, "other day", "other days")),
        };
        Some(format!(
            "More than {MOST_A_DAY} jobs are booked for {}{days}, which is more than a shop can \
             do. The plan looks at the first {MOST_A_DAY} of a day and leaves {} out. Move or \
             cancel what will not be done.",
            day_ahead(today, *first),
            counted(jobs, "job", "jobs")
        ))
    }

    fn later(&self, today: NaiveDate) -> Option<String> {
        let (first, jobs) = self.later?;
        Some(format!(
            "{} from {} on {} left out: the plan has no room for more booked jobs than come \
             before.",
            counted(jobs, "booked job", "booked jobs"),
            day_ahead(today, first),
            if jobs == 1 { "is" } else { "are" }
        ))
    }

    fn not_booked(&self, today: NaiveDate) -> Option<String> {
        let from = day_ahead(today, self.not_booked_from?);
        Some(format!(
            "Jobs not booked yet are left out from {from} on: so many come that the plan has no \
             room to look further."
        ))
    }
}

fn day_ahead(today: NaiveDate, ahead: i32) -> String {
    let day = today.checked_add_days(Days::new(u64::from(ahead.max(0).unsigned_abs())));
    short_day(day.unwrap_or(today), today)
}

#[cfg(test)]
mod tests {
    use super::*;
    use capful_domain::{Currency, Facts, Id, Shop};

    use crate::learn::index::UnitOfWork;

    fn jobs(count: usize, day: i32, units: usize) -> Vec<BookedJob> {
        let unit = UnitOfWork { pair: 0, ln_size: 0.0, ln_condition: 0.0 };
        let job = |place: usize| BookedJob {
            place,
            id: Id::parse(&format!("J-{day}-{place}")).unwrap_or_else(|_| unreachable!()),
            day,
            units: vec![unit; units],
            stall_cost: 0.0,
            started: false,
            late_days: 0,
        };
        (0..count).map(job).collect()
    }

    fn said(left_out: &LeftOut) -> Vec<String> {
        let facts = Facts::new(Shop::new("Two Gulls", chrono_tz::UTC, Currency::NONE));
        let moment = facts.shop.start_of(NaiveDate::from_ymd_opt(2026, 3, 2).unwrap_or_default());
        let snapshot = Snapshot::of(&facts, moment);
        left_out.warnings(&snapshot).into_iter().map(|warning| warning.text).collect()
    }

    #[test]
    fn a_full_calendar_is_looked_at_whole() {
        let calendar: Vec<BookedJob> = (0..20).flat_map(|day| jobs(100, day, 5)).collect();
        let (within, left_out) = within_reach(calendar);
        assert_eq!((within.len(), &left_out), (2000, &LeftOut::default()));
        assert_eq!(said(&left_out), Vec::<String>::new());
    }

    #[test]
    fn of_a_day_that_no_shop_can_do_the_first_jobs_are_looked_at() {
        let calendar = [jobs(16_000, 3, 6), jobs(2, 4, 6), jobs(101, 5, 6)].concat();
        let (within, left_out) = within_reach(calendar);
        assert_eq!(within.len(), 202);
        assert!(within[..100].iter().all(|job| job.day == 3 && job.place < 100));
        assert_eq!(
            said(&left_out),
            ["More than 100 jobs are booked for 5 March and 1 other day, which is more than a \
              shop can do. The plan looks at the first 100 of a day and leaves 15901 jobs out. \
              Move or cancel what will not be done."]
        );
    }

    #[test]
    fn what_finds_no_room_is_the_latest() {
        let calendar: Vec<BookedJob> = (0..200).flat_map(|day| jobs(50, day, 4)).collect();
        let (within, left_out) = within_reach(calendar);
        assert_eq!((within.len(), within.last().map(|job| job.day)), (2500, Some(49)));
        let text = "7500 booked jobs from 21 April on are left out: the plan has no room for more \
                    booked jobs than come before.";
        assert_eq!(said(&left_out), [text]);
    }
}
