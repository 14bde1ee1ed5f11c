//! What goes off: which containers are named, what of them is wasted, and what to do about it.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{ContainerId, VehicleSize};
use capful_forecast::Plan;
use capful_forecast::plan::GoingOff;
use support::*;

fn row<'p>(plan: &'p Plan, container: &str) -> Option<&'p GoingOff> {
    plan.going_off.iter().find(|row| row.container == container)
}

/// A coating in bottles of 50 mL for 100.00, good 14 days once opened; a job takes 20 mL. The shop
/// otherwise washes, so that hardly any coating job comes that is not booked.
fn with_coating() -> TestShop {
    let mut shop = TestShop::busy_with("3000 mL");
    shop.job_type("coating").name = "wheel coating".to_owned();
    shop.product("coat", "50 mL").open_days = Some(14);
    let row = shop.sheet("coating", "coat", "20 mL");
    row.log_sd = Some(dec("0.05"));
    shop
}

/// [`with_coating`] and a bottle opened on 20 February with 30 mL left: good up to 6 March.
fn with_open_coating() -> TestShop {
    let mut shop = with_coating();
    let receipt = shop.receipt("2026-02-01", "coat", 1);
    (receipt.unit_cost, receipt.lot) = (cents(10_000), Some("B22".to_owned()));
    shop.open("2026-02-20", "coat").container = Some(ContainerId::parse("r3/1").unwrap());
    shop.discard("2026-02-20T13:00", "coat").amount = Some(amount("20 mL"));
    shop
}

#[test]
fn an_open_coating_near_its_end_is_named_with_the_job_that_can_use_it() {
    let mut shop = with_open_coating();
    shop.booked("coating", "2026-03-05").size = VehicleSize::Medium;
    let plan = shop.plan();
    let row = row(&plan, "r3/1").unwrap();
    assert_eq!((row.product.as_str(), row.lot.as_str(), row.state), ("coat", "B22", "open"));
    assert_eq!((row.left.amount, row.use_by, row.days_left), (30.0, day("2026-03-06"), 4));
    let starts = "Use it on j43 on Thursday 5 March (wheel coating, medium)";
    assert!(row.advice.starts_with(starts), "{}", row.advice);
    // 30 less about 20; two mL a drop is worth at 100.00 for 50 mL.
    assert!((7.0..14.0).contains(&row.expected_waste.amount), "{row:?}");
    let worth = row.expected_waste.amount * 2.0;
    assert!((worth - row.waste_cost.to_string().parse::<f64>().unwrap()).abs() < 0.01);
}

#[test]
fn what_no_job_uses_is_wasted_whole() {
    let mut shop = with_open_coating();
    shop.facts.usage_sheet.pop();
    let plan = shop.plan();
    let row = row(&plan, "r3/1").unwrap();
    assert_eq!(row.expected_waste.amount, 30.0);
    assert_eq!(row.waste_cost, dec("60.00")); // 30 of 50 mL for 100.00
    assert!(row.advice.starts_with("No booked job takes it by 6 March"), "{}", row.advice);
    assert!(row.advice.contains("30 mL"), "{}", row.advice);
}

#[test]
fn of_a_mix_less_is_to_be_mixed() {
    let mut shop = TestShop::busy_with("1000 mL");
    shop.soap().mix_days = Some(6);
    shop.facts.mixes.push(capful_domain::facts::Mix {
        id: id("m1"),
        at: shop.at("2026-03-01T10:00"),
        product: id("soap"),
        amount: amount("1200 mL"),
        ratio: ratio("5:1"),
        container: None,
    });
    let plan = shop.plan();
    let mix = row(&plan, "m1").unwrap(); // washes take it neat
    assert_eq!((mix.water, mix.state), (Some(5.0), "open"));
    assert!(mix.advice.contains("or mix less next time"), "{}", mix.advice);
}

#[test]
fn what_is_past_its_use_by_is_said_to_be_so() {
    let mut shop = with_open_coating();
    shop.facts.receipts.last_mut().unwrap().best_before = Some(day("2026-02-25"));
    shop.booked("coating", "2026-03-05");
    let plan = shop.plan();
    let row = row(&plan, "r3/1").unwrap();
    assert_eq!((row.days_left, row.expected_waste.amount), (-5, 30.0));
    assert!(row.advice.starts_with("Past its use-by since 25 February"), "{}", row.advice);
    assert_eq!(on_hand(&plan, "coat"), 0.0);
    assert_eq!(outlook(&plan, "coat").past_use_by.amount, 30.0);
}

#[test]
fn a_sealed_container_is_listed_apart_from_the_open_one() {
    let mut shop = with_open_coating();
    shop.receipt("2026-02-21", "coat", 1).best_before = Some(day("2026-03-15")); // r4/1
    shop.booked("coating", "2026-03-05");
    shop.booked("coating", "2026-03-12");
    let plan = shop.plan();
    assert_eq!(row(&plan, "r3/1").unwrap().state, "open");
    let sealed = row(&plan, "r4/1").unwrap();
    assert_eq!((sealed.state, sealed.days_left), ("sealed", 13));
    assert!(sealed.advice.starts_with("Open it next, for "), "{}", sealed.advice);
    // Soonest first.
    let order: Vec<&str> = plan.going_off.iter().map(|row| row.container.as_str()).collect();
    assert_eq!(order, ["r3/1", "r4/1"]);
}

/// [`with_coating`] where one job in five takes any: three bottles opened, the last thrown away,
/// and after a fourth came a job of which nothing is written down.
fn with_bottles_in_turn(tells_openings: bool) -> TestShop {
    let mut shop = with_coating();
    shop.facts.usage_sheet.last_mut().unwrap().share_of_jobs = Some(dec("0.2"));
    for opened_on in ["2026-01-05", "2026-01-20", "2026-02-08"] {
        shop.receipt(opened_on, "coat", 1);
        if tells_openings {
            shop.open(&format!("{opened_on}T13:00"), "coat");
        }
        shop.done("coating", opened_on);
    }
    shop.discard("2026-02-23T08:00", "coat");
    shop.receipt("2026-02-24T08:00", "coat", 1).unit_cost = cents(10_000);
    shop.done("coating", "2026-02-25");
    shop
}

#[test]
fn a_bottle_that_nobody_opened_is_sealed_where_openings_are_told() {
    let listed = |shop: &TestShop| {
        let plan = shop.plan();
        row(&plan, "r6/1").map(|row| (row.state, row.days_left))
    };
    // The books opened it for the job of the 25th, and it would be good up to 11 March.
    assert_eq!(listed(&with_bottles_in_turn(false)), Some(("open", 9)));
    let mut shop = with_bottles_in_turn(true);
    assert_eq!(listed(&shop), None);
    // Somebody saw it half empty.
    shop.count("2026-02-26", "coat", "25 mL").sealed = Some(0);
    assert_eq!(listed(&shop), Some(("open", 9)));
}

#[test]
fn more_than_will_be_used_by_a_far_day_says_to_buy_less() {
    let mut shop = TestShop::busy_with("1000 mL");
    // About 300 mL a week: a year and a quarter's worth, good for four months.
    shop.receipt("2026-03-01", "soap", 20).best_before = Some(day("2026-07-01"));
    let plan = shop.plan();
    let last = plan.going_off.last().unwrap();
    assert_eq!((last.use_by, last.state), (day("2026-07-01"), "sealed"));
    assert!(last.expected_waste.amount > 900.0, "{last:?}");
    assert!(!last.advice.contains("Open it next"), "{}", last.advice);
    assert!(last.advice.contains("More is there than will be used by 1 July"), "{}", last.advice);
    assert!(last.advice.contains("buy less next time"), "{}", last.advice);
}

#[test]
fn a_mix_whose_bottle_was_filled_again_is_not_listed() {
    let mut shop = TestShop::with_soap();
    shop.soap().mix_days = Some(7);
    shop.receipt("2026-02-10T08:00", "soap", 1);
    shop.mix("2026-02-10", "soap", "600 mL", "5:1");
    shop.mix("2026-02-12", "soap", "500 mL", "4:1");
    let listed = |shop: &TestShop| -> Vec<String> {
        shop.plan().going_off.iter().map(|row| row.container.clone()).collect()
    };
    assert_eq!(listed(&shop), ["m1", "m2"]);
    shop.mix("2026-02-27", "soap", "600 mL", "5:1");
    let after = listed(&shop);
    assert!(!after.contains(&"m1".to_owned()) && after.contains(&"m2".to_owned()), "{after:?}");
}

#[test]
fn a_drop_that_is_worth_nothing_is_not_listed() {
    let mut shop = with_open_coating();
    shop.discard("2026-02-21", "coat").amount = Some(amount("29.8 mL"));
    // 0.2 mL of 50 are 0.4 %, worth 0.40.
    assert!(row(&shop.plan(), "r3/1").is_none());
    // At 400.00 a bottle it is 1.60: worth a line.
    shop.facts.receipts.last_mut().unwrap().unit_cost = cents(40_000);
    assert!(row(&shop.plan(), "r3/1").is_some());
}

#[test]
fn what_will_be_used_in_time_is_not_listed() {
    let mut shop = TestShop::busy_with("800 mL");
    let place = shop.facts.receipts.len() - 1;
    shop.facts.receipts[place].best_before = Some(day("2026-04-30"));
    // Two months at 300 mL a week.
    assert!(shop.plan().going_off.is_empty());
}
