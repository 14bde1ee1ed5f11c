//! How long a long history takes. Run by hand:
//! `cargo test --release -p capful-domain --test speed -- --ignored --nocapture`

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use std::time::{Duration, Instant};

use chrono::Duration as Span;
use support::TestShop;

/// Four years of a busy shop: 28 products, 60,000 rows and 40,000 expected pours.
fn four_years() -> TestShop {
    let mut shop = TestShop::new();
    let names: Vec<String> = (0..28).map(|n| format!("product-{n}")).collect();
    for name in &names {
        let product = shop.product(name, "1000 mL");
        (product.shelf_days, product.open_days, product.mix_days) = (Some(400), Some(90), Some(14));
    }
    let from = shop.at("2022-01-03");
    for step in 0..20_000_i64 {
        let name = &names[(step % 28) as usize];
        let at = from + Span::minutes(step * 105);
        if step % 4 == 0 {
            shop.receives("2022-01-03", &names[(step / 4 % 28) as usize], 4).at = at;
        }
        shop.pours("2022-01-03", name, "350 mL").at = at;
        shop.pours("2022-01-03", name, "120 mL").at = at;
        for _ in 0..2 {
            shop.expects("2022-01-03", name, "240 mL").at = at;
        }
        match step % 4 {
            0 => shop.opens("2022-01-03", name).at = at,
            1 => shop.sees("2022-01-03", name, "2500 mL").at = at,
            2 => shop.mixes("2022-01-03", name, "600 mL", "5:1").at = at,
            _ => shop.discards("2022-01-03", name).at = at,
        }
    }
    shop
}

fn best_of_five(what: &str, mut run: impl FnMut() -> usize) -> Duration {
    let timed = (0..5).map(|_| {
        let start = Instant::now();
        let size = run();
        (start.elapsed(), size)
    });
    let (time, size) = timed.min().unwrap();
    println!("{what}: {time:?} ({size})");
    time
}

#[test]
#[ignore = "a measure of a release build"]
fn four_years_post_in_a_blink() {
    let shop = four_years();
    let rows = shop.facts.pours.len() + shop.facts.receipts.len() + shop.facts.openings.len() * 4;
    println!("{rows} rows, {} expected pours", shop.expected.len());
    best_of_five("snapshot", || shop.as_of("2030-01-01").facts.pours.len());
    let snapshot = shop.as_of("2030-01-01");
    let posted = best_of_five("ledger", || snapshot.ledger(&shop.expected).movements().len());
    let ledger = snapshot.ledger(&shop.expected);
    println!("{} containers", ledger.containers().len());
    best_of_five("found stock", || ledger.found_stock().len());
    best_of_five("differences", || ledger.differences().len());
    assert!(posted < Duration::from_millis(200));
}

/// The books hold nothing of it and never will: each pour finds what it takes.
#[test]
#[ignore = "a measure of a release build"]
fn pours_of_what_no_receipt_brought() {
    let mut shop = TestShop::new();
    let names: Vec<String> = (0..28).map(|n| format!("product-{n}")).collect();
    for name in &names {
        shop.product(name, "1000 mL");
    }
    let from = shop.at("2022-01-03");
    for step in 0..60_000_i64 {
        let name = &names[(step % 28) as usize];
        shop.pours("2022-01-03", name, "1350 mL").at = from + Span::minutes(step);
        if step % 4 == 0 {
            shop.counts("2022-01-03", name).sealed = Some(1);
        }
    }
    let snapshot = shop.as_of("2030-01-01");
    let posted = best_of_five("nothing came", || snapshot.ledger(&[]).movements().len());
    assert!(posted < Duration::from_millis(200));
}

/// A product of which many containers stand on the shelf at once, such as single pads.
#[test]
#[ignore = "a measure of a release build"]
fn pours_beside_many_containers() {
    let mut shop = TestShop::new();
    shop.product("pad", "1 each").shelf_days = Some(4000);
    let from = shop.at("2022-01-03");
    for step in 0..40_000_i64 {
        let at = from + Span::minutes(step * 50);
        if step % 2_000 == 0 {
            shop.receives("2022-01-03", "pad", 2_500).at = at;
        }
        shop.pours("2022-01-03", "pad", "1 each").at = at;
    }
    let snapshot = shop.as_of("2030-01-01");
    let posted = best_of_five("many pads", || snapshot.ledger(&[]).movements().len());
    assert!(posted < Duration::from_millis(200));
}

/// A snapshot is taken for each week of a backtest: matching orders must not take long.
#[test]
#[ignore = "a measure of a release build"]
fn ten_years_of_orders() {
    let mut shop = TestShop::new();
    let names: Vec<String> = (0..28).map(|n| format!("product-{n}")).collect();
    for name in &names {
        shop.product(name, "1000 mL");
    }
    let from = shop.at("2022-01-03");
    for week in 0..520_i64 {
        for supplier in ["north-dock", "harbour", "mill"] {
            let at = from + Span::weeks(week);
            shop.orders("2022-01-03", supplier, &names[0], 2).placed_at = at;
            for name in &names[1..5] {
                shop.also_orders(name, 2);
            }
            for name in &names[..5] {
                let row = shop.receives("2022-01-03", name, 2);
                (row.at, row.supplier) = (at + Span::days(4), Some(support::id(supplier)));
            }
        }
    }
    let taken = best_of_five("orders", || shop.as_of("2040-01-01").orders.deliveries.len());
    assert!(taken < Duration::from_millis(50));
}
