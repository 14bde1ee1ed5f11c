//! What was ordered, what has come of it, and what is still out.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::OrderStatus;
use support::{TestShop, id};

/// What is still to come as of the end of March: `po1 soap 2`.
fn out(shop: &TestShop) -> Vec<String> {
    out_on(shop, "2026-03-31")
}

fn out_on(shop: &TestShop, when: &str) -> Vec<String> {
    let book = shop.as_of(when).orders;
    let line =
        |o: &capful_domain::Outstanding| format!("{} {} {}", o.order, o.product, o.containers);
    book.outstanding.iter().map(line).collect()
}

/// When the first of each order came: `po1 2026-03-05`.
fn came(shop: &TestShop) -> Vec<String> {
    let book = shop.as_of("2026-03-31").orders;
    let on = |d: &capful_domain::Delivery| {
        let day = d.first_receipt_at.map(|at| shop.facts.shop.day_of(at).to_string());
        format!("{} {}", d.order, day.unwrap_or_else(|| "-".into()))
    };
    book.deliveries.iter().map(on).collect()
}

fn shop() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.product("polish", "250 mL");
    shop
}

#[test]
fn an_order_comes_in_parts() {
    let mut shop = shop();
    shop.orders("2026-03-02", "north-dock", "soap", 5);
    shop.also_orders("polish", 1);
    shop.receives("2026-03-05", "soap", 2).order = Some(id("po1"));
    shop.receives("2026-03-09", "soap", 1).order = Some(id("po1"));
    assert_eq!(out_on(&shop, "2026-03-04"), ["po1 soap 5", "po1 polish 1"]);
    assert_eq!(out_on(&shop, "2026-03-06"), ["po1 soap 3", "po1 polish 1"]);
    assert_eq!(out(&shop), ["po1 soap 2", "po1 polish 1"]);
    assert_eq!(came(&shop), ["po1 2026-03-05"]);
    let outstanding = &shop.as_of("2026-03-31").orders.outstanding[0];
    assert_eq!(outstanding.quantity.ledger_units(), 2_000_000);
    assert_eq!(outstanding.supplier, id("north-dock"));
    shop.receives("2026-03-10", "soap", 9).order = Some(id("po1"));
    assert_eq!(out(&shop), ["po1 polish 1"], "more than was ordered is no debt");
}

#[test]
fn a_receipt_that_names_no_order_belongs_to_the_oldest_that_waits() {
    let mut shop = shop();
    shop.orders("2026-03-09", "north-dock", "soap", 2);
    shop.orders("2026-03-02", "north-dock", "soap", 2);
    shop.orders("2026-03-02", "harbour", "soap", 2);
    shop.receives("2026-03-10", "soap", 3).supplier = Some(id("north-dock"));
    assert_eq!(out(&shop), ["po3 soap 2", "po1 soap 1"]);
    assert_eq!(came(&shop), ["po2 2026-03-10", "po3 -", "po1 2026-03-10"]);
    // Nor does it say from whom it came.
    shop.receives("2026-03-11", "soap", 1);
    assert_eq!(out(&shop), ["po3 soap 1", "po1 soap 1"]);
}

#[test]
fn a_receipt_that_names_its_order_leaves_the_older_one_waiting() {
    let mut shop = shop();
    shop.orders("2026-03-02", "north-dock", "soap", 1);
    shop.orders("2026-03-03", "north-dock", "soap", 1);
    let at_once = shop.receives("2026-03-05", "soap", 1);
    at_once.supplier = Some(id("north-dock"));
    shop.receives("2026-03-05", "soap", 1).order = Some(id("po1"));
    assert!(out(&shop).is_empty(), "of one moment, the named one is matched first");
    assert_eq!(came(&shop), ["po1 2026-03-05", "po2 2026-03-05"]);
}

#[test]
fn what_came_before_an_order_is_not_of_it() {
    let mut shop = shop();
    shop.receives("2026-03-02T11:00", "soap", 1);
    shop.orders("2026-03-02T12:00", "north-dock", "soap", 1);
    assert_eq!(out(&shop), ["po1 soap 1"]);
    assert_eq!(came(&shop), ["po1 -"]);
}

#[test]
fn an_order_received_is_over_with_what_has_come() {
    let mut shop = shop();
    shop.orders("2026-03-02", "north-dock", "soap", 5).status = Some(OrderStatus::Received);
    assert_eq!(out(&shop), ["po1 soap 5"], "nothing has come yet, as of then");
    shop.receives("2026-03-05", "soap", 3).order = Some(id("po1"));
    assert_eq!(out_on(&shop, "2026-03-04"), ["po1 soap 5"]);
    assert!(out(&shop).is_empty());
    assert_eq!(came(&shop), ["po1 2026-03-05"]);
}

#[test]
fn of_a_cancelled_order_nothing_comes() {
    let mut shop = shop();
    shop.orders("2026-03-02", "north-dock", "soap", 5).status = Some(OrderStatus::Cancelled);
    assert!(out(&shop).is_empty());
    assert!(came(&shop).is_empty(), "nothing is learned from it");
    shop.orders("2026-03-03", "north-dock", "soap", 1).status = Some(OrderStatus::Placed);
    shop.receives("2026-03-05", "soap", 1);
    assert!(out(&shop).is_empty());
}

#[test]
fn a_pack_of_four_is_four_containers() {
    let mut shop = shop();
    shop.offer("north-dock", "soap", 4);
    shop.offer("harbour", "soap", 12);
    shop.orders("2026-03-02", "north-dock", "soap", 2);
    shop.receives("2026-03-05", "soap", 5);
    assert_eq!(out(&shop), ["po1 soap 3"]);
}

#[test]
fn a_pack_is_that_of_the_code_then_the_preferred_then_the_first() {
    let mut shop = shop();
    shop.offer("north-dock", "soap", 2);
    shop.offer("north-dock", "soap", 4).code = Some("S-4".into());
    shop.orders("2026-03-02", "north-dock", "soap", 1);
    assert_eq!(out(&shop), ["po1 soap 2"]);
    shop.offer("north-dock", "soap", 6).preferred = true;
    assert_eq!(out(&shop), ["po1 soap 6"]);
    shop.facts.order_lines[0].supplier_code = Some("S-4".into());
    assert_eq!(out(&shop), ["po1 soap 4"]);
    shop.facts.order_lines[0].supplier_code = Some("gone".into());
    assert_eq!(out(&shop), ["po1 soap 6"]);
    shop.facts.order_lines[0].packs = u32::MAX;
    assert_eq!(out(&shop), [format!("po1 soap {}", u32::MAX)]);
}

#[test]
fn each_line_of_an_order_says_what_is_missing() {
    let mut shop = shop();
    shop.orders("2026-03-02", "north-dock", "soap", 5);
    shop.also_orders("polish", 1);
    shop.receives("2026-03-05", "soap", 2).order = Some(id("po1"));
    let progress = |shop: &TestShop| -> Vec<(String, u32, u32)> {
        let facts = &shop.facts;
        let lines = capful_domain::OrderBook::progress(facts, &facts.orders[0]);
        lines.iter().map(|l| (l.line.product.to_string(), l.containers, l.missing)).collect()
    };
    let line = |product: &str, containers, missing| (product.to_owned(), containers, missing);
    assert_eq!(progress(&shop), [line("soap", 5, 3), line("polish", 1, 1)]);
    // What will not come is still told of an order that is over.
    shop.facts.orders[0].status = Some(OrderStatus::Received);
    assert_eq!(progress(&shop), [line("soap", 5, 3), line("polish", 1, 1)]);
    shop.facts.orders[0].status = Some(OrderStatus::Cancelled);
    assert_eq!(progress(&shop), [line("soap", 5, 5), line("polish", 1, 1)]);
}

#[test]
fn a_delivery_is_free_from_the_suppliers_word_on() {
    use capful_domain::Money;
    let supplier = capful_domain::Supplier {
        id: id("north-dock"),
        name: "North Dock".to_owned(),
        lead_days: 3.into(),
        lead_days_sd: None,
        order_weekdays: Vec::new(),
        freight: Money::from_minor(1200),
        free_freight_over: Some(Money::from_minor(15_000)),
        minimum_order: Money::ZERO,
    };
    assert_eq!(supplier.freight_of(Money::from_minor(14_999)), Money::from_minor(1200));
    assert_eq!(supplier.freight_of(Money::from_minor(15_000)), Money::ZERO);
    let never = capful_domain::Supplier { free_freight_over: None, ..supplier };
    assert_eq!(never.freight_of(Money::from_minor(1_000_000)), Money::from_minor(1200));
}
