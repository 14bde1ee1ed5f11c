//! A plan knows nothing of what happened or was said later, and is the same for a seed anywhere.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{Facts, JobStatus};
use chrono::{DateTime, Duration, Utc};
use proptest::prelude::*;
use support::*;

/// A shop with something of everything, half of it after [`NOW`].
fn lively() -> TestShop {
    let mut shop = TestShop::busy_with("700 mL");
    shop.futures = 60;
    shop.facts.shop.budget = Some(cents(50_000));
    shop.soap().mix_days = Some(20);
    shop.product("wax", "100 mL").open_days = Some(30);
    shop.sheet("wash", "wax", "12 mL");
    shop.offer("north", "wax", 1500);
    shop.receipt("2026-01-10", "wax", 4).best_before = Some(day("2026-06-01"));
    shop.mix("2026-03-01", "soap", "300 mL", "5:1");
    shop.order("2026-02-28T18:00", "north", "wax", 2);
    shop
}

/// Rows at `at`, after the moment asked about: whatever they say, it was not known.
fn later(shop: &mut TestShop, kind: usize, at: DateTime<Utc>, place: usize) {
    let product = ["soap", "wax"][place % 2];
    let day = shop.facts.shop.day_of(at).to_string();
    match kind {
        0 => shop.receipt(NOW, product, 3).at = at,
        1 => {
            let job = shop.facts.jobs[place % shop.facts.jobs.len()].id.clone();
            let pour = shop.pour(NOW, product, "70 mL");
            (pour.at, pour.job) = (at, Some(job));
        }
        2 => shop.open(NOW, product).at = at,
        3 => shop.discard(NOW, product).at = at,
        4 => shop.mix(NOW, product, "70 mL", "5:1").at = at,
        5 => shop.count(NOW, product, "70 mL").at = at,
        6 => {
            shop.order(NOW, "north", product, 4);
            shop.facts.orders.last_mut().unwrap().placed_at = at;
        }
        7 => shop.booked("wash", &day).booked_at = at,
        _ => become_known(&mut shop.facts, kind == 8, at),
    }
    let facts = &mut shop.facts;
    let elsewhere = [facts.receipts.len(), facts.pours.len(), facts.jobs.len()];
    match kind {
        0 => facts.receipts[place % elsewhere[0]..].rotate_right(1),
        1 => facts.pours[place % elsewhere[1]..].rotate_right(1),
        7 => facts.jobs[place % elsewhere[2]..].rotate_right(1),
        _ => {}
    }
}

/// What became of the jobs that were booked.
fn become_known(facts: &mut Facts, done: bool, at: DateTime<Utc>) {
    for job in facts.jobs.iter_mut().filter(|job| job.status == JobStatus::Booked) {
        if done {
            (job.status, job.started_at, job.finished_at) = (JobStatus::Done, Some(at), Some(at));
        } else {
            (job.status, job.cancelled_at) = (JobStatus::Cancelled, Some(at));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 24,
        failure_persistence: None,
        ..Default::default()
    })]

    #[test]
    fn later_rows_change_no_byte(
        rows in proptest::collection::vec((0..10_usize, 1..60_000_i64, 0..1000_usize), 1..12),
    ) {
        let mut shop = lively();
        let before = shop.json_at(NOW);
        let now = shop.at(NOW);
        for (number, (kind, minutes, place)) in rows.into_iter().enumerate() {
            later(&mut shop, kind, now + Duration::minutes(minutes), place * 12 + number);
        }
        prop_assert_eq!(shop.json_at(NOW), before);
    }
}

#[test]
fn an_earlier_day_answers_as_it_did_then() {
    let mut then = lively();
    let now = then.at("2026-02-16T07:00");
    then.facts.counts.clear(); // all of them are of the end of February
    then.facts.jobs.retain(|job| job.booked_at < now);
    for job in then.facts.jobs.iter_mut().filter(|job| job.planned_on >= day("2026-02-16")) {
        job.status = JobStatus::Booked;
        (job.started_at, job.finished_at) = (None, None);
    }
    then.facts.pours.retain(|pour| pour.at < now);
    then.facts.receipts.retain(|receipt| receipt.at < now);
    then.facts.mixes.clear();
    then.facts.orders.clear();
    then.facts.order_lines.clear();
    let all = lively();
    assert_eq!(all.json_at("2026-02-16T07:00"), then.json_at("2026-02-16T07:00"));
    let plan = all.plan_at("2026-02-16T07:00");
    // Washes of Monday 16, Wednesday 18, Friday 20: booked a week ahead; Monday 23 is not yet.
    assert_eq!(plan.readiness.len(), 3);
    assert_eq!(plan.as_of, day("2026-02-16"));
}

#[test]
fn within_a_day_what_was_written_before_the_moment_counts() {
    let mut shop = TestShop::busy_with("2000 mL");
    shop.count("2026-03-02T10:00", "soap", "900 mL");
    assert_eq!(on_hand(&shop.plan_at("2026-03-02T09:59"), "soap"), 2000.0);
    assert_eq!(on_hand(&shop.plan_at("2026-03-02T10:00"), "soap"), 900.0);
    let (began, ended) = (shop.at("2026-03-02T10:30"), shop.at("2026-03-02T12:00"));
    let job = shop.job("j40");
    job.status = JobStatus::Done;
    (job.started_at, job.finished_at) = (Some(began), Some(ended));
    let listed = |when: &str| shop.plan_at(when).readiness.iter().any(|row| row.job == "j40");
    assert!(listed("2026-03-02T10:15") && listed("2026-03-02T11:00")); // booked, then under way
    assert!(!listed("2026-03-02T12:30")); // done
    let left = on_hand(&shop.plan_at("2026-03-02T12:30"), "soap");
    assert!((795.0..805.0).contains(&left), "{left}"); // 900 less a wash
}

#[test]
fn days_begin_in_the_shop_s_own_zone() {
    let shop = TestShop::busy_with("2000 mL");
    // 23:30 in Halifax is past midnight in UTC.
    assert_eq!(shop.plan_at("2026-03-02T23:30").as_of, day("2026-03-02"));
    assert_eq!(shop.plan_at("2026-03-03T00:00").as_of, day("2026-03-03"));
}

#[test]
fn the_same_bytes_on_any_number_of_cores() {
    let shop = lively();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| shop.json_at(NOW))
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
}

#[test]
fn another_seed_draws_otherwise_and_says_nearly_the_same() {
    let mut shop = TestShop::busy_with("500 mL");
    shop.futures = 800;
    let (one, json) = (shop.plan(), shop.json_at(NOW));
    shop.seed = 2;
    let two = shop.plan();
    assert!(json != shop.json_at(NOW));
    let mean = |plan: &capful_forecast::Plan| outlook(plan, "soap").demand.mean;
    assert!(mean(&one) != mean(&two) && (mean(&one) / mean(&two) - 1.0).abs() < 0.05);
    let stall = |plan| line(plan, "soap").unwrap().stall_chance_without;
    // √(0.25 / 800) is 0.018; four of the difference's.
    assert!((stall(&one) - stall(&two)).abs() < 0.1);
    assert_eq!(one.usage, two.usage); // nothing is drawn for what was learned
}

#[test]
fn more_futures_say_nearly_the_same() {
    let mut shop = TestShop::busy_with("500 mL");
    let few = shop.plan();
    shop.futures = 1600;
    let many = shop.plan();
    let mean = |plan: &capful_forecast::Plan| outlook(plan, "soap").demand.mean;
    assert!((mean(&few) / mean(&many) - 1.0).abs() < 0.06, "{} {}", mean(&few), mean(&many));
}
