//! The weekly order: what is bought, from whom, and what it has to heed.
//!
//! That goods and freight make the totals, that packs reach the least that is sold, that the
//! minimum order, free freight and the budget are kept is checked of every plan in `support`.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use chrono::Days;
use support::*;

#[test]
fn a_full_shelf_orders_nothing_and_says_that_it_can_wait() {
    let plan = TestShop::busy_with("3000 mL").plan();
    assert!(plan.weekly_order.orders.is_empty());
    assert_eq!(plan.weekly_order.total.to_string(), "0.00");
    assert_eq!(plan.weekly_order.waiting.len(), 1);
    let why = &plan.weekly_order.waiting[0].why;
    assert!(why.contains("needed before") && why.contains("Monday 9 March"), "{why}");
}

#[test]
fn booked_jobs_beyond_the_shelf_are_ordered_for() {
    let mut shop = TestShop::busy_with("700 mL");
    for date in ["2026-03-09", "2026-03-10", "2026-03-11"] {
        for _ in 0..2 {
            shop.booked("wash", date).booked_at = shop.at("2026-02-27");
        }
    }
    // Nine washes, 900 mL, before an order of next week could be there on 12 March.
    let plan = shop.plan();
    let line = line(&plan, "soap").unwrap();
    assert!(line.stall_chance_without > 0.9 && line.stall_chance_with < 0.05, "{line:?}");
    let ends = line.tried_about(line.packs);
    assert_eq!(ends.0, ends.1, "what is advised was tried");
    assert_eq!(ends.0.unwrap().stall_chance, line.stall_chance_with);
    assert_eq!(ends.0.unwrap().expected_waste, line.expected_waste);
    assert_eq!(line.tried[0].packs, 0);
    assert_eq!(line.tried[0].stall_chance, line.stall_chance_without);
    assert!(line.tried.is_sorted_by(|a, b| a.packs < b.packs), "{:?}", line.tried);
    assert_eq!(line.tried_about(9_999).1, None, "so many were not tried");
    assert_eq!(line.parts.booked_jobs, 9);
    assert!((820.0..930.0).contains(&line.parts.booked.amount), "{:?}", line.parts);
}

#[test]
fn no_more_is_bought_than_is_used_before_it_goes_off() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.soap().shelf_days = Some(10);
    // About 45 mL a day: in ten days not half a bottle more than the first two.
    let plan = shop.plan();
    let few = packs(&plan, "soap");
    shop.soap().shelf_days = None;
    let many = packs(&shop.plan(), "soap");
    assert!((1..=2).contains(&few) && few < many, "{few} and {many}");
}

#[test]
fn the_smaller_pack_is_bought_where_the_larger_one_goes_off() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.soap().shelf_days = Some(14);
    let offer = &mut shop.facts.offers[0];
    (offer.pack, offer.price) = (12, cents(23_000)); // 19.17 a bottle, but twelve of them
    shop.supplier("south", "3").freight = cents(800);
    shop.offer("south", "soap", 2000);
    let plan = shop.plan();
    let line = line(&plan, "soap").unwrap();
    assert_eq!((plan.weekly_order.orders[0].supplier.as_str(), line.containers), ("south", 1));
}

/// A bottle that is opened for few jobs goes off half used. One more of it beside what is there is
/// not worth what it saves in deliveries, though soap is ordered from the same supplier now.
#[test]
fn nothing_is_bought_that_wastes_more_than_it_saves() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.suppliers[0].freight = cents(2500);
    shop.product("coat", "50 mL").open_days = Some(14);
    let row = shop.sheet("wash", "coat", "8 mL");
    (row.share_of_jobs, row.log_sd) = (Some(dec("0.2")), Some(dec("0.1")));
    shop.offer("north", "coat", 4000);
    shop.receipt("2026-02-28T08:00", "coat", 1);
    shop.count("2026-03-01", "coat", "50 mL").sd_share = Some(dec("0"));
    let plan = shop.plan();
    assert!(line(&plan, "soap").is_some());
    assert!(line(&plan, "coat").is_none(), "{:?}", line(&plan, "coat"));
}

#[test]
fn what_is_needed_sooner_comes_from_who_brings_it_in_time() {
    let mut shop = TestShop::busy_with("120 mL");
    shop.facts.suppliers[0].lead_days = dec("9");
    shop.supplier("near", "1").freight = cents(1200);
    shop.offer("near", "soap", 2600); // dearer, but here before Wednesday's wash
    let plan = shop.plan();
    assert_eq!(plan.weekly_order.orders.len(), 1);
    assert_eq!(plan.weekly_order.orders[0].supplier, "near");
    // With enough for two weeks the cheaper one is in time.
    let mut shop = shop.clone();
    shop.count("2026-03-01", "soap", "900 mL");
    let plan = shop.plan();
    assert!(plan.weekly_order.orders.iter().all(|order| order.supplier == "north"));
}

#[test]
fn the_order_is_placed_on_the_shop_s_day_or_at_once_where_that_avoids_a_stall() {
    let mut shop = TestShop::busy();
    shop.on_shelf("350 mL");
    // Thursday 5 March; the next order day is Monday 9, and would bring it on Thursday 12.
    for date in ["2026-03-06", "2026-03-07", "2026-03-09", "2026-03-10", "2026-03-11"] {
        shop.booked("wash", date);
    }
    let plan = shop.plan_at("2026-03-05T07:00");
    let order = &plan.weekly_order.orders[0];
    assert_eq!(order.place_by, day("2026-03-05")); // the fifth wash would stall on Wednesday
    assert!(order.why.contains("Do not wait for the weekly order day."), "{}", order.why);
    shop.count("2026-03-01", "soap", "1050 mL");
    let plan = shop.plan_at("2026-03-05T07:00");
    for order in &plan.weekly_order.orders {
        assert_eq!(order.place_by, day("2026-03-09"));
    }
}

#[test]
fn two_products_of_one_supplier_share_its_delivery() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.product("wax", "100 mL");
    shop.sheet("wash", "wax", "20 mL").log_sd = Some(dec("0.1"));
    shop.offer("north", "wax", 900);
    let plan = shop.plan();
    let order = &plan.weekly_order.orders[0];
    assert_eq!((plan.weekly_order.orders.len(), order.lines.len()), (1, 2));
    assert_eq!(order.freight, dec("8.00")); // once
    assert_eq!(order.lines[0].product, "wax"); // none is left at all: the most pressing
}

#[test]
fn a_small_budget_buys_first_what_avoids_the_dearest_stalls() {
    let mut shop = TestShop::busy_with("0 mL");
    shop.job_type("coating").stall_cost = Some(cents(90_000));
    shop.product("coat", "50 mL");
    shop.sheet("coating", "coat", "30 mL").log_sd = Some(dec("0.1"));
    shop.offer("north", "coat", 7000);
    for date in ["2026-03-06", "2026-03-09"] {
        shop.booked("coating", date);
    }
    shop.facts.shop.budget = Some(cents(16_000)); // two of coat and the delivery: 148.00
    let plan = shop.plan();
    assert!(packs(&plan, "coat") >= 1, "{:?}", plan.weekly_order);
    assert!(plan.weekly_order.total <= dec("160.00"));
}

#[test]
fn an_order_that_is_long_overdue_is_not_counted_on() {
    let mut shop = TestShop::busy_with("250 mL");
    let placed = shop.at("2026-02-28T18:00") - Days::new(60);
    shop.order("2026-02-28T18:00", "north", "soap", 5);
    assert_eq!(packs(&shop.plan(), "soap"), 0);
    shop.facts.orders[0].placed_at = placed;
    // A receipt of another supplier's is no answer to it.
    shop.facts.receipts.iter_mut().for_each(|r| r.supplier = Some(id("elsewhere")));
    let plan = shop.plan();
    assert!(packs(&plan, "soap") >= 1);
    assert_eq!(outlook(&plan, "soap").on_order.amount, 0.0);
    assert!(warned(&plan, "order-late").unwrap().contains("never came"));
}
