//! Shops that know little or are set up in unusual ways get a sensible plan that says so.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{Currency, UnitSystem};
use chrono::Days;
use chrono_tz::America::Halifax;
use rust_decimal::Decimal;
use support::*;

#[test]
fn an_empty_shop_gets_an_empty_plan() {
    let plan = TestShop::new().plan();
    assert!(plan.products.is_empty() && plan.usage.is_empty() && plan.going_off.is_empty());
    assert!(plan.weekly_order.orders.is_empty() && plan.readiness.is_empty());
    assert_eq!(plan.weekly_order.total.to_string(), "0.00");
    assert!(warned(&plan, "no-history").is_some());
}

#[test]
fn without_history_the_sheet_speaks_and_the_plan_says_so() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-03-01", "soap", 1);
    let jobs: Vec<_> =
        ["2026-03-03", "2026-03-04"].map(|date| shop.booked("wash", date).id.clone()).into();
    let plan = shop.plan();
    assert!(warned(&plan, "no-history").unwrap().contains("the usage sheet's word"));
    assert!(warned(&plan, "little-history").is_none());
    assert!(jobs.iter().all(|job| ready(&plan, job) > 0.98)); // two of ten washes' worth
    assert_eq!(usage(&plan, ("wash", "soap"), "medium", 3).jobs_seen, 0);
    let demand = outlook(&plan, "soap").demand;
    assert!(demand.mean > 190.0, "{demand:?}"); // the two booked, and some more
    assert!(demand.p90 > 1.5 * demand.p50, "a guess is wide: {demand:?}");
}

#[test]
fn two_weeks_of_history_are_said_to_be_little() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-02-10", "soap", 3);
    for date in ["2026-02-16", "2026-02-18", "2026-02-20", "2026-02-23", "2026-02-25"] {
        let job = shop.done("wash", date);
        shop.pour(&format!("{date}T11:00"), "soap", "100 mL").job = Some(job);
    }
    let plan = shop.plan();
    // 16 to 28 February without the Sunday: 12 open days.
    assert!(
        warned(&plan, "little-history").unwrap().starts_with("Only 12 open days with 5 visits")
    );
    assert!(warned(&plan, "no-history").is_none());
    let little = outlook(&plan, "soap").demand;
    let long = TestShop::busy_with("2500 mL").plan();
    let long = outlook(&long, "soap").demand;
    assert!(little.sd / little.mean > long.sd / long.mean, "{little:?} {long:?}");
}

/// A year of washes on Monday, Wednesday and Friday without the ten weeks from 1 October on.
fn year_with_a_hole() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.receipt("2025-02-28", "soap", 30);
    let (from, to) = (day("2025-10-01"), day("2025-12-10"));
    for date in day("2025-03-03").iter_days().take_while(|date| *date < day("2026-02-28")) {
        use chrono::Datelike;
        let works = [0, 2, 4].contains(&date.weekday().num_days_from_monday());
        if works && !(from <= date && date < to) {
            shop.done("wash", &date.to_string());
        }
    }
    shop
}

#[test]
fn a_hole_of_ten_weeks_is_named_and_left_out() {
    let mut shop = year_with_a_hole();
    let plan = shop.plan();
    let text = warned(&plan, "history-gap").unwrap();
    // The last visit before is of Monday 29 September, the first after of Wednesday 10 December.
    assert!(text.contains("from 30 September 2025 to 10 December 2025"), "{text}");
    // Three a week still come, a week after they are booked: of four weeks nine, and one today in
    // a week; not the seven of a year with the hole counted in.
    let demand = outlook(&plan, "soap").demand_ahead[1];
    assert!((830.0..1100.0).contains(&demand.mean), "{demand:?}");
    // A count before and one after the hole do not teach that jobs take next to nothing.
    let before = usage(&plan, ("wash", "soap"), "medium", 3).mean;
    shop.count("2025-09-29T18:00", "soap", "20000 mL");
    shop.count("2025-12-09T08:00", "soap", "4000 mL");
    let after = usage(&shop.plan(), ("wash", "soap"), "medium", 3).mean;
    assert!((0.85..1.15).contains(&(after / before)) || after > before, "{before} {after}");
}

#[test]
fn a_hole_that_was_closed_is_none() {
    let mut shop = year_with_a_hole();
    shop.facts.shop.closed_days = day("2025-10-01").iter_days().take(70).collect();
    assert!(warned(&shop.plan(), "history-gap").is_none());
}

#[test]
fn a_shop_without_suppliers_is_told_what_runs_low() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.suppliers.clear();
    let plan = shop.plan(); // the offer of a supplier that is not there is none
    assert!(plan.weekly_order.orders.is_empty() && plan.weekly_order.waiting.is_empty());
    assert!(warned(&plan, "no-offer").is_some());
    let lead = outlook(&plan, "soap").lead_days;
    assert_eq!((lead.mean, lead.p90), (0.0, 0.0));
}

#[test]
fn job_types_without_a_sheet_take_nothing() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.job_type("inspection");
    let job = shop.booked("inspection", "2026-03-03").id.clone();
    let plan = shop.plan();
    let row = readiness(&plan, &job);
    assert_eq!((row.ready_chance, row.set_out.len(), row.short_of.len()), (1.0, 0, 0));
    assert!(plan.usage.iter().all(|row| row.job_type != "inspection"));
}

#[test]
fn a_shop_where_no_size_matters_says_the_same_of_all() {
    let mut shop = TestShop::busy();
    shop.facts.shop.size_factors = [Decimal::ONE; 4];
    shop.facts.shop.condition_factors = [Decimal::ONE; 5];
    let plan = shop.plan();
    let one = usage(&plan, ("wash", "soap"), "medium", 3);
    for row in &plan.usage {
        assert_eq!((row.mean, row.sd, row.sheet), (one.mean, one.sd, one.sheet));
    }
}

#[test]
fn a_supplier_round_the_corner_brings_it_the_same_day() {
    let mut shop = TestShop::busy_with("150 mL");
    shop.facts.suppliers[0].lead_days = Decimal::ZERO;
    shop.facts.suppliers[0].lead_days_sd = None;
    let plan = shop.plan();
    let order = &plan.weekly_order.orders[0];
    assert_eq!((order.place_by, order.arrives.p50), (day("2026-03-02"), day("2026-03-02")));
    assert!(order.arrives.p90 <= day("2026-03-03"));
    assert!(order.lines[0].stall_chance_with < 0.05, "{:?}", order.lines[0]);
}

#[test]
fn yen_have_no_decimals() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.shop.currency = Currency::parse("JPY").unwrap();
    // The same integers are now whole yen: 2000 a bottle, 800 a delivery, 15000 a stall.
    let plan = shop.plan();
    let order = &plan.weekly_order.orders[0];
    assert_eq!(plan.currency, "JPY");
    let packs = order.lines[0].packs;
    assert_eq!(order.goods.to_string(), (2000 * packs).to_string());
    assert_eq!(order.total.to_string(), (2000 * packs + 800).to_string());
    assert_eq!(order.lines[0].expected_waste.to_string(), "0");
    assert!(order.why.contains("800 JPY"), "{}", order.why);
    shop.count("2026-03-01", "soap", "3000 mL");
    assert_eq!(shop.plan().weekly_order.total.to_string(), "0");
}

#[test]
fn dinars_have_three() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.shop.currency = Currency::parse("KWD").unwrap();
    let order = &shop.plan().weekly_order.orders[0];
    assert_eq!(order.freight.to_string(), "0.800");
    assert!(order.why.contains("0.800 KWD"), "{}", order.why);
}

#[test]
fn us_units_are_spoken_in_and_numbers_stay_in_the_product_s_unit() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.shop.units = UnitSystem::Us;
    let plan = shop.plan();
    let line = line(&plan, "soap").unwrap();
    assert!(line.why.contains("fl oz") && !line.why.contains("mL"), "{}", line.why);
    assert!(line.why.contains("8.5 fl oz is left"), "{}", line.why); // 250 / 29.57 = 8.45
    assert_eq!(outlook(&plan, "soap").on_hand.unit, "mL");
}

#[test]
fn a_year_s_turn_and_a_53rd_week_are_days_like_others() {
    let mut shop = TestShop::with_soap();
    shop.receipt("2026-10-01", "soap", 8);
    let mut date = day("2026-10-05");
    while date < day("2026-12-30") {
        shop.done("wash", &date.to_string());
        date = date + Days::new(2);
    }
    shop.booked("wash", "2027-01-02");
    // ISO 8601: Thursday 31 December 2026 is of week 53.
    let plan = shop.plan_at("2026-12-31T07:00");
    let demand = outlook(&plan, "soap").demand;
    assert_eq!((demand.from, demand.to), (day("2026-12-31"), day("2027-01-14")));
    // The one that is booked, and of 7 to 13 January one on every other day.
    assert!((300.0..600.0).contains(&demand.mean), "{demand:?}");
}

#[test]
fn clocks_that_change_do_not_move_a_day() {
    // In Halifax 2026-03-08 has 23 hours.
    let mut shop = TestShop::busy_with("2000 mL");
    let job = shop.booked("wash", "2026-03-09").id.clone();
    let plan = shop.plan_at("2026-03-08T07:00");
    assert_eq!(plan.as_of, day("2026-03-08"));
    assert_eq!(readiness(&plan, &job).planned_on, day("2026-03-09"));
    assert_eq!(shop.facts.shop.timezone, Halifax);
}

#[test]
fn products_with_odd_numbers_are_planned_for_all_the_same() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.shop.service = Decimal::ONE;
    shop.facts.shop.holding_rate = Decimal::ZERO;
    shop.facts.shop.stall_cost = cents(0);
    shop.facts.offers[0].price = cents(0);
    shop.facts.suppliers[0].freight = cents(0);
    shop.product("towel", "1 each").open_days = Some(0);
    shop.sheet("wash", "towel", "0.25 each").share_of_jobs = Some(Decimal::ZERO);
    shop.product("never-used", "5 L").shelf_days = Some(0);
    shop.offer("north", "never-used", 4000).minimum_packs = 3;
    shop.receipt("2026-03-01", "never-used", 2);
    let plan = shop.plan();
    assert_eq!(packs(&plan, "never-used"), 0);
    let numbers = serde_json::to_string(&plan).unwrap();
    assert!(!numbers.contains("null,\"unit\"") && !numbers.contains("NaN"));
}
