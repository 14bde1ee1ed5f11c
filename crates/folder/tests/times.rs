//! Times are read as the page of the shop folder says, and written as short as they can be.

#![allow(clippy::unwrap_used)]

mod common;

use capful_folder::to_files;
use common::with;

/// When an opening was that says `at`, in UTC, and how it is written again.
fn read_and_written(timezone: &str, at: &str) -> (String, String) {
    let shop = format!("name = \"A\"\ntimezone = \"{timezone}\"\ncurrency = \"CAD\"\n");
    let openings = format!("id,at,product\nOP-1,{at},iron\n");
    let facts = with(&[("shop.toml", &shop), ("openings.csv", &openings)]).unwrap().facts;
    let moment = facts.openings[0].at;
    let written = String::from_utf8(to_files(&facts)["openings.csv"].clone()).unwrap();
    let again = written.lines().nth(1).unwrap().split(',').nth(1).unwrap().to_owned();
    (moment.to_rfc3339(), again)
}

fn check(timezone: &str, cases: [(&str, &str, &str); 6]) {
    for (at, moment, again) in cases {
        let (found, written) = read_and_written(timezone, at);
        assert_eq!(found, moment, "{at}");
        assert_eq!(written, again, "{at}");
        assert_eq!(read_and_written(timezone, &written).0, moment, "{at}, written as {written}");
    }
}

#[test]
fn a_day_a_local_time_or_a_time_with_offset() {
    check(
        "America/Halifax",
        [
            ("2026-03-02", "2026-03-02T04:00:00+00:00", "2026-03-02"),
            ("2026-03-02T00:00", "2026-03-02T04:00:00+00:00", "2026-03-02"),
            ("2026-07-02T14:30", "2026-07-02T17:30:00+00:00", "2026-07-02T14:30"),
            ("2026-03-02T14:30:15", "2026-03-02T18:30:15+00:00", "2026-03-02T14:30:15-04:00"),
            ("2026-03-02T20:00:00+01:00", "2026-03-02T19:00:00+00:00", "2026-03-02T15:00"),
            (
                "2026-03-02T19:00:00.25Z",
                "2026-03-02T19:00:00.250+00:00",
                "2026-03-02T15:00:00.250-04:00",
            ),
        ],
    );
}

/// In 2026 the clocks of Halifax go on an hour on 8 March and back on 1 November, at two.
#[test]
fn hours_that_the_clocks_skip_or_repeat() {
    check(
        "America/Halifax",
        [
            ("2026-03-08T02:30", "2026-03-08T06:00:00+00:00", "2026-03-08T03:00"),
            ("2026-03-08T03:00", "2026-03-08T06:00:00+00:00", "2026-03-08T03:00"),
            ("2026-11-01T01:30", "2026-11-01T04:30:00+00:00", "2026-11-01T01:30:00-03:00"),
            ("2026-11-01T05:30:00Z", "2026-11-01T05:30:00+00:00", "2026-11-01T01:30:00-04:00"),
            ("2026-11-01", "2026-11-01T03:00:00+00:00", "2026-11-01"),
            ("2026-11-01T02:00", "2026-11-01T06:00:00+00:00", "2026-11-01T02:00"),
        ],
    );
}

/// In Santiago the clocks go on at midnight of 6 September 2026, and back at that of 5 April.
#[test]
fn midnights_that_the_clocks_skip_or_repeat() {
    check(
        "America/Santiago",
        [
            ("2026-09-06", "2026-09-06T04:00:00+00:00", "2026-09-06"),
            ("2026-09-06T00:30", "2026-09-06T04:00:00+00:00", "2026-09-06"),
            ("2026-09-06T01:00", "2026-09-06T04:00:00+00:00", "2026-09-06"),
            ("2026-04-04T23:30", "2026-04-05T02:30:00+00:00", "2026-04-04T23:30:00-03:00"),
            ("2026-04-05T03:30:00Z", "2026-04-05T03:30:00+00:00", "2026-04-04T23:30:00-04:00"),
            ("2026-04-05", "2026-04-05T04:00:00+00:00", "2026-04-05"),
        ],
    );
}
