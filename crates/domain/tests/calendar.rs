//! Days and moments in the shop's zone.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::Shop;
use chrono::{DateTime, Datelike, NaiveDateTime, TimeDelta, Utc, Weekday};
use chrono_tz::Tz;
use proptest::prelude::*;
use support::{day, halifax};

fn in_zone(zone: Tz) -> Shop {
    Shop { timezone: zone, ..halifax() }
}

fn moment(shop: &Shop, local: &str) -> String {
    let format = if local.len() > 16 { "%Y-%m-%dT%H:%M:%S" } else { "%Y-%m-%dT%H:%M" };
    let local = NaiveDateTime::parse_from_str(local, format).unwrap();
    shop.moment(local).format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn utc(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// America/Halifax, 8 March 2026: 02:00 AST is followed by 03:00 ADT.
#[test]
fn clocks_go_forward_in_halifax() {
    let shop = halifax();
    assert_eq!(moment(&shop, "2026-03-08T01:59"), "2026-03-08T05:59:00Z");
    for skipped in ["2026-03-08T02:00", "2026-03-08T02:30", "2026-03-08T02:59:59"] {
        assert_eq!(moment(&shop, skipped), "2026-03-08T06:00:00Z", "{skipped}");
    }
    assert_eq!(moment(&shop, "2026-03-08T03:00"), "2026-03-08T06:00:00Z");
    let short = shop.start_of(day("2026-03-09")) - shop.start_of(day("2026-03-08"));
    assert_eq!(short, TimeDelta::hours(23));
}

/// America/Halifax, 1 November 2026: 01:00 to 02:00 comes twice, and the first is meant.
#[test]
fn clocks_go_back_in_halifax() {
    let shop = halifax();
    assert_eq!(moment(&shop, "2026-11-01T00:59"), "2026-11-01T03:59:00Z");
    assert_eq!(moment(&shop, "2026-11-01T01:30"), "2026-11-01T04:30:00Z");
    assert_eq!(moment(&shop, "2026-11-01T02:00"), "2026-11-01T06:00:00Z");
    let long = shop.start_of(day("2026-11-02")) - shop.start_of(day("2026-11-01"));
    assert_eq!(long, TimeDelta::hours(25));
}

#[test]
fn a_day_is_the_shops_own() {
    let shop = halifax();
    assert_eq!(shop.day_of(utc("2026-03-02T03:59:59Z")), day("2026-03-01"));
    assert_eq!(shop.day_of(utc("2026-03-02T04:00:00Z")), day("2026-03-02"));
    assert_eq!(shop.day_of(utc("2026-07-02T03:00:00Z")), day("2026-07-02"));
    let ahead = in_zone(chrono_tz::Pacific::Kiritimati);
    assert_eq!(ahead.day_of(utc("2026-03-02T10:00:00Z")), day("2026-03-03"));
}

/// Clocks that jump at midnight: the day begins at 01:00.
#[test]
fn a_day_begins_where_midnight_is_skipped() {
    let havana = in_zone(chrono_tz::America::Havana);
    let first = havana.start_of(day("2026-03-08"));
    assert_eq!(first, utc("2026-03-08T05:00:00Z"));
    assert_eq!(havana.day_of(first - TimeDelta::seconds(1)), day("2026-03-07"));
    let beirut = in_zone(chrono_tz::Asia::Beirut);
    let first = beirut.start_of(day("2026-03-29"));
    assert_eq!(first, utc("2026-03-28T22:00:00Z"));
    assert_eq!(beirut.day_of(first), day("2026-03-29"));
}

/// Clocks that go back over midnight: Havana lives the first hour of the day twice, Beirut the
/// last one.
#[test]
fn a_day_begins_once_where_midnight_comes_twice() {
    let havana = in_zone(chrono_tz::America::Havana);
    let first = havana.start_of(day("2026-11-01"));
    assert_eq!(first, utc("2026-11-01T04:00:00Z"));
    assert_eq!(havana.day_of(first - TimeDelta::seconds(1)), day("2026-10-31"));
    let beirut = in_zone(chrono_tz::Asia::Beirut);
    let first = beirut.start_of(day("2026-10-25"));
    assert_eq!(first, utc("2026-10-24T22:00:00Z"));
    assert_eq!(beirut.day_of(first - TimeDelta::seconds(1)), day("2026-10-24"));
}

/// Samoa had no 30 December 2011.
#[test]
fn a_day_that_never_was_begins_with_the_next() {
    let apia = in_zone(chrono_tz::Pacific::Apia);
    assert_eq!(apia.start_of(day("2011-12-30")), apia.start_of(day("2011-12-31")));
}

/// ISO 8601 weeks: a year may have 53, and its first days may belong to the one before.
#[test]
fn iso_8601_weeks() {
    let week = |text: &str| {
        let (week, weekday) = (day(text).iso_week(), day(text).weekday());
        format!("{}-W{:02}-{}", week.year(), week.week(), weekday.number_from_monday())
    };
    assert_eq!(week("2019-12-30"), "2020-W01-1");
    assert_eq!(week("2026-12-31"), "2026-W53-4");
    assert_eq!(week("2027-01-03"), "2026-W53-7");
}

#[test]
fn the_weekly_order_falls_on_its_weekday() {
    let monday = day("2026-03-02");
    assert_eq!(Shop::next_weekday(monday, Weekday::Mon), monday);
    assert_eq!(Shop::next_weekday(monday, Weekday::Sun), day("2026-03-08"));
    assert_eq!(Shop::next_weekday(day("2026-03-03"), Weekday::Mon), day("2026-03-09"));
}

#[test]
fn closed_days_are_those_that_the_shop_names() {
    let mut shop = halifax();
    shop.closed_days.insert(day("2026-12-25"));
    assert!(!shop.is_open(day("2026-03-01")), "a Sunday");
    assert!(shop.is_open(day("2026-03-02")));
    assert!(!shop.is_open(day("2026-12-25")));
}

const ZONES: [Tz; 6] = [
    chrono_tz::America::Halifax,
    chrono_tz::America::Havana,
    chrono_tz::Asia::Beirut,
    chrono_tz::Australia::Lord_Howe,
    chrono_tz::America::St_Johns,
    chrono_tz::Pacific::Kiritimati,
];

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Every day begins with itself, and the moment before belongs to another.
    #[test]
    fn each_day_begins_with_its_first_moment(zone in 0..6_usize, days in 0..5000_u64) {
        let shop = in_zone(ZONES[zone]);
        let day = day("2018-01-01") + chrono::Days::new(days);
        let first = shop.start_of(day);
        prop_assert_eq!(shop.day_of(first), day);
        prop_assert!(shop.day_of(first - TimeDelta::seconds(1)) < day);
    }

    /// A moment shown in local time is read as itself, but for the hour that comes twice.
    #[test]
    fn a_local_time_is_read_as_it_was_shown(zone in 0..6_usize, minutes in 0..5_000_000_i64) {
        let shop = in_zone(ZONES[zone]);
        let moment = utc("2018-01-01T00:00:00Z") + TimeDelta::minutes(minutes);
        let read = shop.moment(moment.with_timezone(&shop.timezone).naive_local());
        let again = moment - read;
        prop_assert!(again == TimeDelta::zero() || again == TimeDelta::hours(1)
            || again == TimeDelta::minutes(30), "{}", again);
    }
}
