//! What a plan says in words agrees with its numbers, and its JSON keeps to what was agreed.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::ContainerId;
use serde_json::Value;
use support::*;

/// A shop with something to say in every part.
fn talkative() -> TestShop {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.offers[0].code = Some("N-77".to_owned());
    shop.soap().open_days = Some(4); // opened on 28 February: up to 4 March
    let bottle = ContainerId::parse("r2/1").unwrap();
    shop.open("2026-02-28T15:30", "soap").container = Some(bottle);
    shop.product("wax", "100 mL");
    shop.sheet("wash", "wax", "12 mL");
    shop.offer("north", "wax", 1500);
    shop.order("2026-02-28T18:00", "north", "wax", 1);
    shop.supplier("far", "20");
    shop
}

/// Every number in a text, thousands written without commas.
fn numbers(text: &str) -> Vec<f64> {
    let is_part = |c: char| c.is_ascii_digit() || c == '.';
    let words = text.split(|c: char| !is_part(c)).map(|word| word.trim_matches('.'));
    words.filter_map(|word| word.parse().ok()).collect()
}

#[test]
fn the_numbers_of_a_line_s_reason_add_up_and_are_those_of_its_parts() {
    let mut shop = TestShop::busy_with("500 mL");
    shop.order("2026-02-28T18:00", "north", "soap", 0);
    for left in ["100 mL", "250 mL", "380 mL", "500 mL"] {
        shop.count("2026-03-01", "soap", left);
        let plan = shop.plan();
        let line = line(&plan, "soap").unwrap();
        // "Until 12 March 3 booked jobs take about A and jobs not booked yet about B: C in all.
        // D is left: … is E % without this and F % with it."
        let said = numbers(&line.why);
        let (day, jobs, booked, others, all, on_hand, without) =
            (said[0], said[1], said[2], said[3], said[4], said[5], said[6]);
        assert_eq!(booked + others, all, "{}", line.why);
        let parts = &line.parts;
        assert!((booked - parts.booked.amount).abs() <= 0.5, "{} {parts:?}", line.why);
        assert!((others - parts.not_booked.amount).abs() <= 0.5, "{} {parts:?}", line.why);
        assert_eq!((jobs, on_hand), (f64::from(parts.booked_jobs), parts.on_hand.amount));
        assert_eq!(parts.to.format("%-d").to_string(), day.to_string());
        assert!((without - 100.0 * line.stall_chance_without).abs() <= 0.5 + 1e-9);
    }
}

#[test]
fn what_is_on_order_is_said() {
    let mut shop = TestShop::busy_with("100 mL");
    shop.facts.suppliers[0].lead_days = dec("9");
    shop.order("2026-02-28T18:00", "north", "soap", 1);
    let mut near = shop.clone();
    near.supplier("near", "1");
    near.offer("near", "soap", 1900);
    let plan = near.plan();
    let line = line(&plan, "soap").unwrap();
    assert!(line.why.contains("0.1 L is left and 1 L on order"), "{}", line.why);
    assert_eq!(line.parts.on_order.amount, 1000.0);
}

#[test]
fn what_only_fills_the_order_up_is_not_said_to_be_needed() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.product("towel", "1 each");
    shop.sheet("wash", "towel", "0.1 each").log_sd = Some(dec("0.1"));
    shop.offer("north", "towel", 400);
    shop.receipt("2026-02-28T08:00", "towel", 5);
    shop.count("2026-03-01", "towel", "5 each").sd_share = Some(dec("0"));
    shop.facts.suppliers[0].freight = cents(1500);
    let goods = shop.plan().weekly_order.orders[0].goods;
    // Free from 5.00 above: two towels reach it.
    let over = capful_domain::Money::from_decimal(goods + dec("5"), shop.facts.shop.currency);
    shop.facts.suppliers[0].free_freight_over = over;
    let plan = shop.plan();
    assert_eq!(plan.weekly_order.orders[0].freight, dec("0.00"));
    let towel = line(&plan, "towel").unwrap(); // plenty is there, half a one is used by then
    let ends = "enough until then, but bought with the rest it saves freight.";
    assert!(towel.why.ends_with(ends), "{}", towel.why);
}

/// Above the reorder point and bought all the same: the sum leads to the packs.
#[test]
fn what_is_bought_for_its_cycle_says_until_when_it_lasts() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.suppliers[0].freight = cents(4000);
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "30 mL").log_sd = Some(dec("0.1"));
    shop.offer("north", "wax", 500);
    shop.receipt("2026-02-28T08:00", "wax", 1);
    shop.count("2026-03-01", "wax", "500 mL").sd_share = Some(dec("0"));
    let plan = shop.plan();
    let wax = line(&plan, "wax").unwrap();
    let parts = &wax.parts;
    assert!(parts.on_hand.amount > parts.reorder_point.amount, "{parts:?}");
    assert!(parts.up_to_day > parts.to && parts.order_up_to.amount > parts.on_hand.amount);
    assert_eq!(parts.bought.amount, f64::from(wax.containers) * 500.0);
    assert!(wax.why.contains("enough until then. This order is to last until"), "{}", wax.why);
}

#[test]
fn pieces_are_and_deliveries_come_on_open_days() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.shop.closed = vec![chrono::Weekday::Thu, chrono::Weekday::Fri];
    shop.product("towel", "1 each");
    shop.sheet("wash", "towel", "1 each").log_sd = Some(dec("0.1"));
    shop.offer("north", "towel", 400);
    shop.receipt("2026-02-28T08:00", "towel", 3);
    shop.count("2026-03-01", "towel", "3 each").sd_share = Some(dec("0"));
    let plan = shop.plan();
    let towel = line(&plan, "towel").unwrap();
    assert!(towel.why.contains(" 3 pieces are left"), "{}", towel.why);
    // Three days from Monday 2 March is a Thursday.
    let arrives = &plan.weekly_order.orders[0].arrives;
    assert_eq!(arrives.p50, day("2026-03-07"));
}

#[test]
fn a_mix_of_more_than_there_was_asks_for_a_count() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.facts.mixes.push(capful_domain::facts::Mix {
        id: id("m1"),
        at: shop.at("2026-03-01T10:00"),
        product: id("soap"),
        amount: amount("6 L"),
        ratio: ratio("5:1"),
        container: None,
    });
    let plan = shop.plan();
    let short = plan.warnings.iter().find(|warning| warning.code == "books-short").unwrap();
    assert!(short.text.contains("the books ran out 0.75 L before"), "{}", short.text);
}

#[test]
fn an_order_says_why_now_by_the_product_s_name() {
    let mut shop = TestShop::busy_with("250 mL");
    shop.soap().name = "Foaming soap, 1 L".to_owned();
    let plan = shop.plan();
    let order = &plan.weekly_order.orders[0];
    let starts = "Foaming soap, 1 L would not last";
    assert!(order.why.starts_with(starts) && order.why.ends_with("The delivery costs 8.00 CAD."));
}

#[test]
fn one_is_one_job_and_nothing_is_not_counted() {
    let mut shop = TestShop::busy();
    shop.on_shelf("50 mL");
    shop.booked("wash", "2026-03-04");
    let plan = shop.plan();
    let why = &line(&plan, "soap").unwrap().why;
    assert!(why.contains(" 1 booked job takes about "), "{why}");
    shop.facts.jobs.pop();
    let plan = shop.plan();
    let why = &line(&plan, "soap").unwrap().why;
    assert!(why.contains("jobs not booked yet take about") && !why.contains("0 booked"), "{why}");
}

#[test]
fn no_sentence_holds_a_number_that_is_none() {
    for shop in [talkative(), TestShop::new(), TestShop::with_soap()] {
        let text = shop.json_at(NOW);
        for word in ["NaN", "inf", "-0 ", "None", "Some("] {
            let line = text.lines().find(|line| line.contains(word));
            assert!(line.is_none(), "{word} in {line:?}");
        }
    }
}

// ---- the fields that were agreed

fn fields<'v>(value: &'v Value, names: &[&str]) -> &'v serde_json::Map<String, Value> {
    let object = value.as_object().unwrap();
    for name in names {
        assert!(object.contains_key(*name), "{name} is missing in {value}");
    }
    object
}

fn is_amount(value: &Value, unit: &str) {
    fields(value, &["amount", "unit"]);
    assert!(value["amount"].is_f64() && value["unit"] == unit, "{value}");
}

fn is_money(value: &Value) {
    let text = value.as_str().unwrap();
    let (whole, cents) = text.split_once('.').unwrap();
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    assert!(!whole.is_empty() && digits(whole) && cents.len() == 2 && digits(cents), "{text}");
}

fn is_day(value: &Value) {
    let text = value.as_str().unwrap();
    assert_eq!(day(text).format("%Y-%m-%d").to_string(), text);
}

fn is_chance(value: &Value) {
    assert!((0.0..=1.0).contains(&value.as_f64().unwrap()), "{value}");
}

fn rows<'v>(plan: &'v Value, name: &str) -> &'v [Value] {
    let rows = plan[name].as_array().unwrap();
    assert!(!rows.is_empty(), "nothing in {name}");
    rows
}

fn json() -> Value {
    serde_json::from_str(&talkative().json_at(NOW)).unwrap()
}

#[test]
fn the_plan_has_its_parts() {
    let plan = json();
    fields(&plan, &["weekly_order", "products", "going_off", "readiness", "usage", "warnings"]);
    assert_eq!(plan["shop"], "Two Gulls Detailing");
    assert_eq!((&plan["as_of"], &plan["seed"]), (&Value::from("2026-03-02"), &Value::from(1)));
    let empty: Value = serde_json::from_str(&TestShop::new().json_at(NOW)).unwrap();
    is_money(&empty["weekly_order"]["total"]);
}

#[test]
fn the_weekly_order_has_its_fields() {
    let plan = json();
    let week = &plan["weekly_order"];
    is_money(&week["total"]);
    let orders = week["orders"].as_array().unwrap();
    assert!(!orders.is_empty());
    for order in orders {
        assert!(order["supplier"].is_string());
        for day in [&order["place_by"], &order["arrives"]["p50"], &order["arrives"]["p90"]] {
            is_day(day);
        }
        for money in ["goods", "freight", "total"] {
            is_money(&order[money]);
        }
        for line in order["lines"].as_array().unwrap() {
            assert!(line["product"].is_string() && line["why"].is_string());
            assert!(line["packs"].is_u64() && line["containers"].is_u64());
            is_money(&line["cost"]);
            is_money(&line["expected_waste"]);
            is_chance(&line["stall_chance_without"]);
            is_chance(&line["stall_chance_with"]);
        }
    }
    assert_eq!(
        orders[0]["lines"].as_array().unwrap().iter().filter(|l| l["code"] == "N-77").count(),
        1
    );
}

#[test]
fn each_product_has_its_fields() {
    let plan = json();
    for row in rows(&plan, "products") {
        assert!(row["product"].is_string());
        for amount in ["on_hand", "on_order", "reorder_point", "order_up_to"] {
            is_amount(&row[amount], "mL");
        }
        assert!(row["lead_days"]["mean"].is_f64() && row["lead_days"]["p90"].is_f64());
        let demand = &row["demand"];
        is_day(&demand["from"]);
        is_day(&demand["to"]);
        assert_eq!((day("2026-03-16") - day("2026-03-02")).num_days(), 14);
        assert_eq!((&demand["from"], &demand["to"]), (&"2026-03-02".into(), &"2026-03-16".into()));
        for name in ["mean", "sd", "p10", "p50", "p90", "p95"] {
            assert!(demand[name].is_f64(), "{demand}");
        }
        for name in ["p10", "p50", "p90"] {
            assert!(row["cover_days"][name].is_u64(), "{row}");
        }
    }
}

#[test]
fn what_goes_off_has_its_fields() {
    let plan = json();
    for row in rows(&plan, "going_off") {
        for text in ["container", "product", "lot", "advice"] {
            assert!(row[text].is_string());
        }
        assert!(row["state"] == "open" || row["state"] == "sealed");
        is_amount(&row["left"], "mL");
        is_amount(&row["expected_waste"], "mL");
        is_day(&row["use_by"]);
        is_money(&row["waste_cost"]);
        assert!(row["days_left"].is_i64());
    }
}

#[test]
fn readiness_usage_and_warnings_have_their_fields() {
    let plan = json();
    let mut short = 0;
    for row in rows(&plan, "readiness") {
        assert!(row["job"].is_string());
        is_day(&row["planned_on"]);
        is_chance(&row["ready_chance"]);
        for lack in row["short_of"].as_array().unwrap() {
            short += 1;
            assert!(lack["product"].is_string());
            is_chance(&lack["chance"]);
            is_amount(&lack["missing"], "mL");
            assert!(fields(lack, &["substitute"])["substitute"].is_null());
        }
        for out in row["set_out"].as_array().unwrap() {
            assert!(out["product"].is_string() && out["container"].is_string());
            is_amount(&out["expect"], "mL");
            is_amount(&out["up_to"], "mL");
        }
    }
    assert!(short > 0);
    for row in rows(&plan, "usage") {
        let names = ["mean", "sd", "mean_p10", "mean_p90", "share_of_jobs", "sheet"];
        assert!(names.iter().all(|name| row[*name].is_f64()), "{row}");
        assert!(row["condition"].is_u64() && row["jobs_seen"].is_u64());
        assert!(["job_type", "product", "size"].iter().all(|name| row[*name].is_string()));
    }
    let warnings: Value = serde_json::from_str(&TestShop::new().json_at(NOW)).unwrap();
    for row in rows(&warnings, "warnings") {
        fields(row, &["code", "product", "text"]);
        assert!(row["code"].is_string() && row["text"].is_string());
    }
}
