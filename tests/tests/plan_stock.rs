//! What a plan says is on hand and on order, worked out by hand from the rows.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::{Method, OrderStatus};
use capful_domain::{Condition, ContainerId, JobStatus, Snapshot, VehicleSize};
use capful_forecast::{Usage, expected_pours};
use support::*;

#[test]
fn every_kind_of_row_moves_what_is_on_hand_by_what_it_says() {
    let mut shop = TestShop::with_soap();
    let left = |shop: &TestShop| on_hand(&shop.plan(), "soap");
    shop.receipt("2026-02-02", "soap", 2); // 2 × 1000
    assert_eq!(left(&shop), 2000.0);
    let job = shop.done("wash", "2026-02-16");
    let pour = shop.pour("2026-02-16T11:00", "soap", "600 mL");
    (pour.job, pour.ratio) = (Some(job), Some(ratio("5:1"))); // one part in six: 100
    assert_eq!(left(&shop), 1900.0);
    shop.mix("2026-02-17", "soap", "500 mL", "4:1"); // 100 moved into the mix, none gone
    assert_eq!(left(&shop), 1900.0);
    shop.pour("2026-02-18", "soap", "250 mL").container = Some(ContainerId::parse("m1").unwrap());
    assert_eq!(left(&shop), 1850.0); // a fifth of 250
    shop.discard("2026-02-19", "soap").amount = Some(amount("150 mL"));
    assert_eq!(left(&shop), 1700.0);
    shop.count("2026-02-20", "soap", "1600 mL");
    assert_eq!(left(&shop), 1600.0);
    // The 600 in the open bottle go; the sealed one stays.
    shop.discard("2026-02-21", "soap").container = Some(ContainerId::parse("r1/1").unwrap());
    assert_eq!(left(&shop), 1000.0);
}

#[test]
fn an_opening_says_that_the_last_bottle_is_empty() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-02-02", "soap", 3);
    shop.pour("2026-02-10", "soap", "700 mL");
    assert_eq!(on_hand(&shop.plan(), "soap"), 2300.0);
    shop.open("2026-02-12", "soap"); // the 300 left in the first are not there
    assert_eq!(on_hand(&shop.plan(), "soap"), 2000.0);
}

#[test]
fn done_jobs_without_pours_take_the_sheet_times_size_times_condition() {
    let mut shop = TestShop::with_soap();
    shop.job_type("wheels");
    shop.sheet("wheels", "soap", "180 mL").ratio = Some(ratio("5:1")); // 30 of product
    shop.job_type("trim");
    shop.sheet("trim", "soap", "20 mL").share_of_jobs = Some(dec("0.5")); // 10 on average
    shop.receipt("2026-02-02", "soap", 1);
    shop.done("wash", "2026-02-10");
    shop.last_job().job_types = ["wash", "wheels", "trim"].map(id).to_vec();
    shop.last_job().size = VehicleSize::Large;
    shop.last_job().condition = Condition::new(4).unwrap();
    // (100 + 30 + 10) × 1.25 × 1.25 = 218.75
    assert_eq!(on_hand(&shop.plan(), "soap"), 781.25);
}

#[test]
fn measured_pours_stand_in_place_of_the_sheet_and_the_rest_is_expected() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "20 mL");
    shop.receipt("2026-02-02", "soap", 1);
    shop.receipt("2026-02-02", "wax", 1);
    let job = shop.done("wash", "2026-02-10");
    shop.pour("2026-02-10T10:00", "soap", "130 mL").job = Some(job.clone());
    let plan = shop.plan();
    assert_eq!(on_hand(&plan, "soap"), 870.0);
    // The sheet's 20, or a little more: where soap took more than was thought, wax may too.
    assert!((478.0..480.0).contains(&on_hand(&plan, "wax")), "{}", on_hand(&plan, "wax"));
    shop.pour("2026-02-10T10:00", "wax", "0 mL").job = Some(job); // it took none
    assert_eq!(on_hand(&shop.plan(), "wax"), 500.0);
}

#[test]
fn expected_pours_that_were_written_down_are_all_that_a_job_took() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "20 mL");
    shop.receipt("2026-02-02", "soap", 1);
    shop.receipt("2026-02-02", "wax", 1);
    let job = shop.done("wash", "2026-02-10");
    let pour = shop.pour("2026-02-10T12:00", "soap", "90 mL");
    (pour.job, pour.method) = (Some(job), Some(Method::Expected));
    let plan = shop.plan();
    assert_eq!((on_hand(&plan, "soap"), on_hand(&plan, "wax")), (910.0, 500.0));
    // It taught nothing: the mean is the sheet's still.
    assert_eq!(usage(&plan, ("wash", "soap"), "medium", 3).mean, 100.0);
    assert_eq!(usage(&plan, ("wash", "soap"), "medium", 3).jobs_seen, 0);
}

fn snapshot(shop: &TestShop) -> Snapshot {
    Snapshot::of(&shop.facts, shop.at(NOW))
}

#[test]
fn what_is_kept_of_usage_says_of_a_job_what_the_books_say_once_it_is_done() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "20 mL").ratio = Some(ratio("1:1"));
    shop.receipt("2026-02-02", "soap", 1);
    let measured = shop.done("wash", "2026-02-10");
    shop.pour("2026-02-10T10:00", "soap", "130 mL").job = Some(measured);
    let kept = Usage::learn(&snapshot(&shop));
    shop.done("wash", "2026-02-12");
    shop.last_job().size = VehicleSize::Large;
    let said = kept.expected_for(&shop.last_job().clone());
    let all = expected_pours(&snapshot(&shop));
    assert_eq!(said.len(), 2);
    assert_eq!(said[..], all[all.len() - 2..]);
}

#[test]
fn jobs_that_are_not_done_take_nothing_yet() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-02-02", "soap", 1);
    shop.booked("wash", "2026-03-03");
    let began = shop.at("2026-03-02T06:30");
    let job = shop.booked("wash", "2026-03-02");
    (job.status, job.started_at) = (JobStatus::Started, Some(began));
    shop.booked("wash", "2026-02-27").status = JobStatus::Cancelled;
    assert_eq!(on_hand(&shop.plan(), "soap"), 1000.0);
}

#[test]
fn what_is_on_order_is_what_was_ordered_and_did_not_come() {
    let mut shop = TestShop::with_soap();
    let on_order = |shop: &TestShop| outlook(&shop.plan(), "soap").on_order.amount;
    shop.facts.offers[0].pack = 4;
    let order = shop.order("2026-02-27", "north", "soap", 3);
    assert_eq!(on_order(&shop), 12_000.0); // 3 packs of 4 bottles of a litre
    shop.receipt("2026-02-28", "soap", 5).order = Some(order.clone());
    assert_eq!(on_order(&shop), 7000.0);
    assert_eq!(on_hand(&shop.plan(), "soap"), 5000.0);
    shop.facts.orders[0].status = Some(OrderStatus::Received); // no more will come
    assert_eq!(on_order(&shop), 0.0);
    shop.order("2026-02-28", "north", "soap", 1);
    assert_eq!(on_order(&shop), 4000.0);
    shop.facts.orders[1].status = Some(OrderStatus::Cancelled);
    assert_eq!(on_order(&shop), 0.0);
}

#[test]
fn what_is_past_its_use_by_is_not_on_hand() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-01-05", "soap", 1).best_before = Some(day("2026-03-01"));
    shop.receipt("2026-01-06", "soap", 1).best_before = Some(day("2026-03-02"));
    let plan = shop.plan();
    assert_eq!(on_hand(&plan, "soap"), 1000.0); // good on its last day
    assert_eq!(outlook(&plan, "soap").past_use_by.amount, 1000.0);
}

#[test]
fn quantities_stand_in_the_product_s_own_unit() {
    let mut shop = TestShop::new();
    shop.product("sealant", "1 gal");
    shop.product("clay", "200 g");
    shop.product("towel", "12 each");
    for product in ["sealant", "clay", "towel"] {
        shop.receipt("2026-02-02", product, 2);
    }
    shop.pour("2026-02-03", "sealant", "16 fl oz"); // an eighth of a gallon
    shop.discard("2026-02-03", "towel").amount = Some(amount("3 each"));
    let plan = shop.plan();
    let shown = |name| (on_hand(&plan, name), outlook(&plan, name).on_hand.unit);
    assert_eq!(shown("sealant"), (1.875, "gal"));
    assert_eq!(shown("clay"), (400.0, "g"));
    assert_eq!(shown("towel"), (21.0, "each"));
}
