//! A calendar with more jobs than any shop does: what is left out of the plan is said, and no plan
//! of an ordinary calendar is another for it.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use support::*;

/// Washes booked for Thursday, 5 March.
fn booked(jobs: usize) -> TestShop {
    let mut shop = TestShop::busy_with("1000 mL");
    shop.futures = 50;
    for _ in 0..jobs {
        shop.booked("wash", "2026-03-05");
    }
    shop
}

#[test]
fn of_a_day_that_no_shop_can_do_the_first_jobs_are_looked_at_and_the_rest_is_said() {
    let shop = booked(300);
    let plan = shop.plan();
    // Three were booked before, for Monday, Wednesday and Friday.
    assert_eq!(plan.readiness.len(), 103);
    let of_day: Vec<&str> = plan.readiness[2..102].iter().map(|row| row.job.as_str()).collect();
    let first = shop.facts.jobs.iter().filter(|job| job.planned_on == day("2026-03-05"));
    let first: Vec<&str> = first.take(100).map(|job| job.id.as_str()).collect();
    assert_eq!(of_day, first);
    let said = "More than 100 jobs are booked for 5 March, which is more than a shop can do. The \
                plan looks at the first 100 of a day and leaves 200 jobs out. Move or cancel what \
                will not be done.";
    assert_eq!(warned(&plan, "jobs-left-out"), Some(said));
    // What is left out takes nothing: more of it changes no number.
    let more = booked(400).plan();
    assert_eq!((more.products, more.weekly_order), (plan.products, plan.weekly_order));
}

#[test]
fn a_hundred_jobs_on_a_day_are_all_looked_at() {
    let plan = booked(100).plan();
    assert_eq!(plan.readiness.len(), 103);
    assert_eq!(warned(&plan, "jobs-left-out"), None);
}

#[test]
fn of_hundreds_of_jobs_for_days_gone_by_the_first_are_named() {
    let mut shop = TestShop::busy_with("1000 mL");
    shop.futures = 50;
    for _ in 0..250 {
        shop.booked("wash", "2026-02-04");
    }
    let plan = shop.plan();
    let late: Vec<&str> = plan
        .warnings
        .iter()
        .filter(|warning| warning.code == "job-overdue")
        .map(|warning| &*warning.text)
        .collect();
    assert_eq!(late.len(), 101);
    let said = "150 more jobs are still booked for days gone by. Finish them, move them or cancel \
                them.";
    assert_eq!(late[100], said);
}
