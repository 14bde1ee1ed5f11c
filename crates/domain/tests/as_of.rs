//! Rule 7: everything can be asked as of a moment, and answers as it would have then.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{Facts, JobStatus, Snapshot};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::prelude::*;
use support::{TestShop, id};

#[test]
fn every_kind_of_row_is_seen_from_its_moment_on() {
    let mut shop = TestShop::with_soap();
    let noon = "2026-03-02T12:00";
    shop.receives(noon, "soap", 1);
    shop.pours(noon, "soap", "10 mL");
    shop.opens(noon, "soap");
    shop.discards(noon, "soap");
    shop.mixes(noon, "soap", "600 mL", "5:1");
    shop.sees(noon, "soap", "500 mL");
    shop.books(noon, "2026-03-09");
    shop.orders(noon, "north-dock", "soap", 2);
    let before = shop.as_of("2026-03-02T11:59");
    assert_eq!(before.facts, Facts { products: shop.facts.products.clone(), ..nothing(&shop) });
    assert_eq!((before.orders.outstanding.len(), before.orders.deliveries.len()), (0, 0));
    assert!(before.ledger(&[]).movements().is_empty());
    let then = shop.as_of(noon);
    assert_eq!(then.facts, shop.facts, "a row of the very moment is seen");
    assert_eq!(then.orders.outstanding.len(), 1);
}

fn nothing(shop: &TestShop) -> Facts {
    Facts::new(shop.facts.shop.clone())
}

fn status(shop: &TestShop, when: &str) -> Option<JobStatus> {
    shop.as_of(when).facts.jobs.first().map(|job| job.status)
}

#[test]
fn a_job_done_later_but_booked_before_is_a_booked_job() {
    let mut shop = TestShop::with_soap();
    let (started, finished) = (shop.at("2026-03-09T09:00"), shop.at("2026-03-09T15:00"));
    let job = shop.books("2026-03-02", "2026-03-09");
    (job.started_at, job.finished_at) = (Some(started), Some(finished));
    job.status = JobStatus::Done;
    assert_eq!(status(&shop, "2026-03-01"), None);
    assert_eq!(status(&shop, "2026-03-02"), Some(JobStatus::Booked));
    assert_eq!(status(&shop, "2026-03-09T08:59"), Some(JobStatus::Booked));
    assert_eq!(status(&shop, "2026-03-09T09:00"), Some(JobStatus::Started));
    assert_eq!(status(&shop, "2026-03-09T14:59"), Some(JobStatus::Started));
    assert_eq!(status(&shop, "2026-03-09T15:00"), Some(JobStatus::Done));
    let booked = &shop.as_of("2026-03-05").facts.jobs[0];
    assert_eq!((booked.started_at, booked.finished_at), (None, None), "nobody knew yet");
    let started = &shop.as_of("2026-03-09T12:00").facts.jobs[0];
    assert!(started.started_at.is_some() && started.finished_at.is_none());
}

#[test]
fn a_job_cancelled_later_is_still_booked_or_under_way() {
    let mut shop = TestShop::with_soap();
    let (started, cancelled) = (shop.at("2026-03-09T09:00"), shop.at("2026-03-09T10:00"));
    let job = shop.books("2026-03-02", "2026-03-09");
    (job.status, job.cancelled_at) = (JobStatus::Cancelled, Some(cancelled));
    assert_eq!(status(&shop, "2026-03-09T09:59"), Some(JobStatus::Booked));
    assert_eq!(shop.as_of("2026-03-05").facts.jobs[0].cancelled_at, None);
    assert_eq!(status(&shop, "2026-03-09T10:00"), Some(JobStatus::Cancelled));
    shop.facts.jobs[0].started_at = Some(started);
    assert_eq!(status(&shop, "2026-03-09T09:30"), Some(JobStatus::Started));
    shop.facts.jobs[0].cancelled_at = None;
    assert_eq!(status(&shop, "2026-03-05"), Some(JobStatus::Cancelled), "nobody said when");
}

/// A job that says `done` and not when ended as it began, else with its day.
#[test]
fn a_job_done_without_a_moment() {
    let mut shop = TestShop::with_soap();
    let started = shop.at("2026-03-09T09:00");
    shop.books("2026-03-02", "2026-03-09").status = JobStatus::Done;
    assert_eq!(status(&shop, "2026-03-08T23:59"), Some(JobStatus::Booked));
    assert_eq!(status(&shop, "2026-03-09T00:00"), Some(JobStatus::Done));
    let job = &shop.facts.jobs[0];
    assert_eq!(job.ended_at(&shop.facts.shop), shop.at("2026-03-09T00:00"));
    shop.facts.jobs[0].started_at = Some(started);
    assert_eq!(status(&shop, "2026-03-09T08:59"), Some(JobStatus::Booked));
    assert_eq!(status(&shop, "2026-03-09T09:00"), Some(JobStatus::Done));
}

#[test]
fn a_job_under_way_without_a_moment_is_under_way() {
    let mut shop = TestShop::with_soap();
    shop.books("2026-03-02", "2026-03-09").status = JobStatus::Started;
    assert_eq!(status(&shop, "2026-03-02"), Some(JobStatus::Started));
    let later = shop.at("2026-03-09T09:00");
    shop.facts.jobs[0].started_at = Some(later);
    assert_eq!(status(&shop, "2026-03-09T08:59"), Some(JobStatus::Booked));
}

#[test]
fn the_shelf_of_an_earlier_day_is_what_it_was() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-05", "soap", "1300 mL");
    shop.sees("2026-03-09", "soap", "200 mL");
    let shelf = |when| support::shelf(&shop.as_of(when).ledger(&[]), "soap");
    assert_eq!(shelf("2026-03-04"), ["r1/1 sealed 1000", "r1/2 sealed 1000"]);
    assert_eq!(shelf("2026-03-06"), ["r1/1 empty 0", "r1/2 open 700"]);
    assert_eq!(shelf("2026-03-10"), ["r1/1 empty 0", "r1/2 open 200"]);
    assert_eq!(shop.as_of("2026-03-10T23:59").day, support::day("2026-03-10"));
}

/// The order of rows in the files says nothing; the order of their moments does.
#[test]
fn rows_are_posted_in_the_order_of_time() {
    let mut shop = TestShop::with_soap();
    shop.sees("2026-03-09", "soap", "200 mL");
    shop.pours("2026-03-05", "soap", "1300 mL");
    shop.receives("2026-03-02", "soap", 2);
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 200"]);
    assert_eq!(shop.surplus("soap"), None);
}

/// A moment some hours off the middle of the history.
fn at(hours: i64) -> DateTime<Utc> {
    "2026-03-16T15:00:00Z".parse::<DateTime<Utc>>().unwrap() + TimeDelta::hours(hours)
}

/// One row of some kind at `hours`; what it says besides is told by `pick`.
fn write(shop: &mut TestShop, kind: u8, hours: i64, pick: i64) {
    let day = "2026-03-01";
    let product = if pick % 2 == 0 { "soap" } else { "polish" };
    let how_much = format!("{} mL", 10 + pick * 7);
    match kind {
        0 => {
            let order = shop.facts.orders.first().map(|order| order.id.clone());
            let row = shop.receives(day, product, 1 + u32::try_from(pick % 4).unwrap());
            row.at = at(hours);
            row.order = order.filter(|_| pick % 3 == 0);
        }
        1 => shop.pours(day, product, &how_much).at = at(hours),
        2 => shop.opens(day, product).at = at(hours),
        3 => shop.discards(day, product).at = at(hours),
        4 => shop.mixes(day, product, &how_much, "5:1").at = at(hours),
        5 => shop.sees(day, product, &how_much).at = at(hours),
        6 => {
            let row = shop.orders(day, "north-dock", product, 1 + u32::try_from(pick % 3).unwrap());
            row.placed_at = at(hours);
            shop.also_orders("polish", 2);
        }
        _ => {
            let job = shop.books(day, "2026-03-16");
            job.booked_at = at(hours);
            let later = |more: i64| Some(at(hours + more));
            match pick % 4 {
                0 => (job.status, job.finished_at) = (JobStatus::Done, later(pick)),
                1 => (job.status, job.started_at) = (JobStatus::Started, later(pick)),
                2 => (job.status, job.cancelled_at) = (JobStatus::Cancelled, later(pick)),
                _ => {}
            }
        }
    }
}

type RowKind = (u8, i64, i64);

fn history(hours: std::ops::Range<i64>) -> impl Strategy<Value = Vec<RowKind>> {
    prop::collection::vec((0..8_u8, hours, 0..100_i64), 0..40)
}

fn two_products() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.product("polish", "250 mL").open_days = Some(30);
    shop
}

fn seen(snapshot: &Snapshot) -> String {
    let ledger = snapshot.ledger(&[]);
    format!("{snapshot:?} {:?} {:?}", ledger.movements(), ledger.containers())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Rows after the moment may stand in the files, anywhere; they change nothing.
    #[test]
    fn later_rows_change_nothing(
        known in history(-500..1),
        later in history(1..500),
        first in any::<bool>(),
    ) {
        let mut shop = two_products();
        for (kind, hours, pick) in &known {
            write(&mut shop, *kind, *hours, *pick);
        }
        let before = seen(&Snapshot::of(&shop.facts, at(0)));
        let counts = |facts: &Facts| [facts.receipts.len(), facts.orders.len(), facts.jobs.len()];
        let [receipts, orders, jobs] = counts(&shop.facts);
        for (kind, hours, pick) in &later {
            write(&mut shop, *kind, *hours, *pick);
        }
        if first {
            shop.facts.receipts.rotate_left(receipts);
            shop.facts.orders.rotate_left(orders);
            shop.facts.jobs.rotate_left(jobs);
        }
        prop_assert_eq!(seen(&Snapshot::of(&shop.facts, at(0))), before);
    }

    /// What a job's row says later of its end changes nothing before that end.
    #[test]
    fn a_job_unfinished_at_the_moment_looks_booked(end in 1..200_i64, pick in 0..2_u8) {
        let mut shop = two_products();
        shop.books("2026-03-01", "2026-03-20");
        let before = seen(&Snapshot::of(&shop.facts, at(0)));
        let job = &mut shop.facts.jobs[0];
        if pick == 0 {
            (job.status, job.finished_at) = (JobStatus::Done, Some(at(end)));
        } else {
            (job.status, job.cancelled_at) = (JobStatus::Cancelled, Some(at(end)));
        }
        prop_assert_eq!(seen(&Snapshot::of(&shop.facts, at(0))), before);
    }

    /// A snapshot of a snapshot is the snapshot of the earlier moment.
    #[test]
    fn looking_back_from_later_shows_the_same(known in history(-500..500)) {
        let mut shop = two_products();
        for (kind, hours, pick) in &known {
            write(&mut shop, *kind, *hours, *pick);
        }
        let later = Snapshot::of(&shop.facts, at(100));
        let direct = seen(&Snapshot::of(&shop.facts, at(0)));
        prop_assert_eq!(seen(&Snapshot::of(&later.facts, at(0))), direct);
    }
}

#[test]
fn pairs_are_those_that_were_poured_for_a_job() {
    let mut shop = TestShop::with_soap();
    shop.pours("2026-03-03", "soap", "50 mL");
    shop.pours("2026-03-03", "soap", "0 mL").job = Some(id("j1"));
    let snapshot = shop.as_of("2026-03-04");
    assert_eq!(snapshot.measured_pairs(), [(&id("j1"), &id("soap"))].into());
}
