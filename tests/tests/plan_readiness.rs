//! Whether the shelf carries the booked jobs, and what to put on the bench for them.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{ContainerId, Id, JobStatus};
use support::*;

/// Thirteen weeks of washes at 100 mL, so much soap left, and no jobs but these today.
fn today(left: &str, jobs: usize) -> (TestShop, Vec<Id>) {
    let mut shop = TestShop::busy();
    shop.on_shelf(left);
    let ids = (0..jobs).map(|_| shop.booked("wash", "2026-03-02").id.clone()).collect();
    (shop, ids)
}

#[test]
fn plenty_is_ready_and_nothing_is_not() {
    let (shop, jobs) = today("5000 mL", 1);
    let plan = shop.plan();
    let row = readiness(&plan, &jobs[0]);
    assert_eq!((row.ready_chance, row.short_of.len()), (1.0, 0));
    let (mut shop, jobs) = today("10 mL", 1);
    shop.count("2026-03-01", "soap", "0 mL");
    let plan = shop.plan();
    let row = readiness(&plan, &jobs[0]);
    assert_eq!((row.ready_chance, row.set_out.len()), (0.0, 0));
    // All of a wash is missing: 100 mL, give or take what 400 draws leave open.
    assert_eq!(row.short_of[0].chance, 1.0);
    assert!((95.0..105.0).contains(&row.short_of[0].missing.amount), "{row:?}");
}

#[test]
fn a_shelf_of_just_the_mean_is_even_odds() {
    let (shop, jobs) = today("100 mL", 1);
    let chance = ready(&shop.plan(), &jobs[0]);
    assert!((0.4..0.65).contains(&chance), "{chance}");
}

#[test]
fn of_two_jobs_on_a_day_the_first_takes_first() {
    let (mut shop, jobs) = today("150 mL", 2);
    let plan = shop.plan();
    assert!(ready(&plan, &jobs[0]) > 0.95 && ready(&plan, &jobs[1]) < 0.05);
    // 100 + 100 − 150.
    let missing = readiness(&plan, &jobs[1]).short_of[0].missing.amount;
    assert!((44.0..56.0).contains(&missing), "{missing}");
    // One that is under way goes before one that is not.
    let began = shop.at("2026-03-02T06:30");
    let second = shop.job(jobs[1].as_str());
    (second.status, second.started_at) = (JobStatus::Started, Some(began));
    let plan = shop.plan();
    assert!(ready(&plan, &jobs[1]) > 0.95 && ready(&plan, &jobs[0]) < 0.05);
}

#[test]
fn what_comes_in_time_counts() {
    let mut shop = TestShop::busy();
    shop.on_shelf("10 mL");
    let early = shop.booked("wash", "2026-03-03").id.clone();
    let late = shop.booked("wash", "2026-03-06").id.clone();
    shop.order("2026-03-01", "north", "soap", 2); // three days: Wednesday 4 March
    let plan = shop.plan();
    assert!(ready(&plan, &early) < 0.1 && ready(&plan, &late) > 0.95, "{:?}", plan.readiness);
}

#[test]
fn set_out_names_the_open_bottle_first_and_sums_to_the_mean() {
    let mut shop = TestShop::busy();
    shop.on_shelf("60 mL");
    shop.open("2026-03-01T08:00", "soap").container = Some(ContainerId::parse("r2/1").unwrap());
    shop.receipt("2026-03-01", "soap", 1); // r3/1, sealed
    let job = shop.booked("wash", "2026-03-02").id.clone();
    let plan = shop.plan();
    let mean = usage(&plan, ("wash", "soap"), "medium", 3).mean;
    let out = &readiness(&plan, &job).set_out;
    let names: Vec<&str> = out.iter().map(|row| row.container.as_str()).collect();
    assert_eq!(names, ["r2/1", "r3/1"]);
    assert_eq!((out[0].expect.amount, out[0].up_to.amount), (60.0, 60.0));
    assert!((out[0].expect.amount + out[1].expect.amount - mean).abs() < 0.002);
    assert!(out[1].up_to.amount > out[1].expect.amount);
}

#[test]
fn of_sealed_bottles_the_one_that_ends_first_is_set_out() {
    let mut shop = TestShop::busy();
    shop.receipt("2026-03-01T09:00", "soap", 1).best_before = Some(day("2026-12-01"));
    shop.receipt("2026-03-01T10:00", "soap", 1).best_before = Some(day("2026-06-01"));
    let job = shop.booked("wash", "2026-03-02").id.clone();
    assert_eq!(readiness(&shop.plan(), &job).set_out[0].container, "r3/1");
}

#[test]
fn the_second_job_is_set_out_with_what_the_first_leaves() {
    let (mut shop, jobs) = today("120 mL", 2);
    shop.receipt("2026-03-01", "soap", 1);
    let plan = shop.plan();
    let mean = usage(&plan, ("wash", "soap"), "medium", 3).mean;
    let names = |job: &Id| -> Vec<(String, f64)> {
        let rows = readiness(&plan, job).set_out.iter();
        rows.map(|row| (row.container.clone(), row.expect.amount)).collect()
    };
    // The first may take more than 120, and has the next bottle beside it in case.
    assert_eq!(names(&jobs[0])[0].0, "r2/1");
    let second = names(&jobs[1]);
    assert_eq!((second[0].0.as_str(), second[1].0.as_str()), ("r2/1", "r3/1"));
    assert!((second[0].1 - (120.0 - mean)).abs() < 0.002, "{second:?}");
    assert!((second[0].1 + second[1].1 - mean).abs() < 0.002);
}

#[test]
fn a_mix_is_set_out_for_its_own_ratio_only() {
    let mut shop = TestShop::busy();
    shop.job_type("wheels");
    shop.sheet("wheels", "soap", "600 mL").ratio = Some(ratio("5:1"));
    shop.receipt("2026-03-01T09:00", "soap", 1);
    shop.mix("2026-03-01T10:00", "soap", "900 mL", "5:1"); // 150 of product
    let wheels = shop.booked("wheels", "2026-03-02").id.clone();
    let wash = shop.booked("wash", "2026-03-02").id.clone();
    let plan = shop.plan();
    let out = &readiness(&plan, &wheels).set_out[0];
    assert_eq!((out.container.as_str(), out.water), ("m1", Some(5.0)));
    let out = &readiness(&plan, &wash).set_out[0];
    assert_eq!((out.container.as_str(), out.water), ("r2/1", None));
}

#[test]
fn a_started_job_still_takes_what_was_not_poured_yet() {
    let (mut shop, jobs) = today("0 mL", 1);
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "20 mL");
    shop.receipt("2026-02-27", "wax", 1);
    shop.count("2026-03-01", "wax", "500 mL");
    let began = shop.at("2026-03-02T06:00");
    let job = shop.job(jobs[0].as_str());
    (job.status, job.started_at) = (JobStatus::Started, Some(began));
    shop.pour("2026-03-02T06:30", "soap", "80 mL").job = Some(jobs[0].clone());
    let plan = shop.plan();
    let row = readiness(&plan, &jobs[0]);
    // The soap is on the vehicle; the wax is on the shelf.
    assert_eq!(row.ready_chance, 1.0);
    assert_eq!(row.set_out.len(), 1);
    assert_eq!(row.set_out[0].product, "wax");
}

#[test]
fn only_jobs_to_come_are_listed_by_their_day() {
    let mut shop = TestShop::busy();
    shop.receipt("2026-03-01", "soap", 3);
    let thursday = shop.booked("wash", "2026-03-05").id.clone();
    let tuesday = shop.booked("wash", "2026-03-03").id.clone();
    shop.booked("wash", "2026-03-03").status = JobStatus::Cancelled;
    let plan = shop.plan();
    let listed: Vec<&str> = plan.readiness.iter().map(|row| row.job.as_str()).collect();
    assert_eq!(listed, [tuesday.as_str(), thursday.as_str()]);
}

#[test]
fn a_job_that_should_have_been_done_is_asked_about() {
    let mut shop = TestShop::busy();
    shop.receipt("2026-03-01", "soap", 3);
    let late = shop.booked("wash", "2026-02-28").id.clone();
    let plan = shop.plan();
    assert_eq!(readiness(&plan, &late).planned_on, day("2026-02-28"));
    assert!(warned(&plan, "job-overdue").unwrap().contains(late.as_str()));
    // A fortnight late it is no longer believed.
    shop.last_job().planned_on = day("2026-02-15");
    let plan = shop.plan();
    assert!(plan.readiness.is_empty() && warned(&plan, "job-overdue").is_some());
}

#[test]
fn a_job_of_several_types_needs_all_that_they_take() {
    let (mut shop, jobs) = today("1000 mL", 1);
    shop.job_type("coating");
    shop.product("coat", "50 mL");
    shop.sheet("coating", "coat", "30 mL");
    shop.job(jobs[0].as_str()).job_types = vec![id("wash"), id("coating")];
    let plan = shop.plan();
    let row = readiness(&plan, &jobs[0]);
    assert_eq!(row.ready_chance, 0.0);
    assert_eq!(row.short_of.len(), 1);
    assert_eq!(row.short_of[0].product, "coat");
}

#[test]
fn what_two_types_of_one_job_lack_is_one_lack() {
    let (mut shop, jobs) = today("0 mL", 1);
    shop.job_type("engine");
    shop.sheet("engine", "soap", "50 mL").log_sd = Some(dec("0.1"));
    shop.job(jobs[0].as_str()).job_types = vec![id("wash"), id("engine")];
    let plan = shop.plan();
    let short = &readiness(&plan, &jobs[0]).short_of;
    assert_eq!((short.len(), short[0].chance), (1, 1.0));
    // 100 for the wash and 50 for the engine.
    assert!((143.0..157.0).contains(&short[0].missing.amount), "{short:?}");
}
