//! Rule 1: a mistake is reversed by a new movement that names the old one.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{CannotReverse, Effect, Ledger, MovementKind, Source};
use support::{TestShop, amount, container, id, ratio, shelf};

fn reverse(shop: &TestShop, ledger: &mut Ledger, source: Source) -> Result<(), CannotReverse> {
    ledger.reverse(&source, shop.at("2026-05-01"))
}

#[test]
fn a_pour_written_twice_is_put_back() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-03", "soap", "1200 mL");
    let mut ledger = shop.ledger();
    let written = ledger.movements().len();
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 sealed 1000", "r1/2 sealed 1000"]);
    let last = ledger.movements().last().unwrap();
    assert_eq!((last.kind, last.effect), (MovementKind::Reversed, Effect::None));
    assert_eq!(last.at, shop.at("2026-05-01"));
    assert!(ledger.movements()[written..].iter().all(|m| m.reverses.unwrap() < written));
    let again = reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap_err();
    assert_eq!(again, CannotReverse::NothingToReverse(id("p1")));
    let unknown = reverse(&shop, &mut ledger, Source::Count(id("p1"))).unwrap_err();
    assert_eq!(unknown, CannotReverse::NothingToReverse(id("p1")));
}

#[test]
fn a_bottle_stays_open_for_what_was_poured_after_the_mistake() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "200 mL");
    shop.pours("2026-03-05", "soap", "0 mL").container = Some(container("r1/1"));
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 sealed 1000"], "a pour of nothing opens nothing");
    shop.pours("2026-03-06", "soap", "50 mL");
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 950"]);
    let opened = ledger.container(&container("r1/1")).unwrap().opened.unwrap();
    assert_eq!((opened.at, opened.seen), (shop.at("2026-03-06"), false));
}

#[test]
fn a_receipt_of_which_something_was_poured_stands() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-03", "soap", "200 mL");
    let mut ledger = shop.ledger();
    let refused = reverse(&shop, &mut ledger, Source::Receipt(id("r1"))).unwrap_err();
    assert!(matches!(&refused, CannotReverse::BelowNothing { container, left, .. }
        if container.as_str() == "r1/1" && left.ledger_units() == -200_000));
    assert!(refused.to_string().contains("`r1/1` would hold 200 mL less than nothing"));
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 800", "r1/2 sealed 1000"]);
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    reverse(&shop, &mut ledger, Source::Receipt(id("r1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 empty 0", "r1/2 empty 0"]);
}

/// Bottles of a receipt that never was are not there to be filled by a count.
#[test]
fn what_never_came_is_not_found_again() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Receipt(id("r1"))).unwrap();
    ledger.count(shop.sees("2026-05-02", "soap", "300 mL"));
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 empty 0", "c1/1 open 300"]);
}

#[test]
fn a_mix_goes_back_into_its_bottle() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Mix(id("m1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 sealed 1000", "m1 empty 0"]);
    shop.pours("2026-03-04", "soap", "60 mL").ratio = Some(ratio("5:1"));
    let mut ledger = shop.ledger();
    assert!(reverse(&shop, &mut ledger, Source::Mix(id("m1"))).is_err());
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 900", "m1 open 100"]);
    assert_eq!(ledger.container(&container("m1")).unwrap().opened, None);
}

#[test]
fn an_opening_undone_gives_the_last_bottle_its_rest_back() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.opens("2026-03-02", "soap");
    shop.pours("2026-03-03", "soap", "300 mL");
    shop.opens("2026-03-04", "soap");
    let mut ledger = shop.ledger();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 empty 0", "r1/2 open 1000"]);
    reverse(&shop, &mut ledger, Source::Opening(id("o2"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 700", "r1/2 sealed 1000"]);
}

#[test]
fn a_discard_undone_puts_the_bottle_back_as_it_stood() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "300 mL");
    shop.discards("2026-03-04", "soap");
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Discard(id("d1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 700"]);
}

/// The pour did not happen, so there was more in the bottle when it was thrown away.
#[test]
fn what_comes_back_into_a_discarded_bottle_was_thrown_away_with_it() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "300 mL");
    shop.discards("2026-03-04", "soap");
    let mut ledger = shop.ledger();
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 discarded 0"]);
    let thrown = ledger.movements().iter().filter(|m| m.kind == MovementKind::Discarded);
    assert_eq!(thrown.map(|m| m.change.ledger_units()).sum::<i64>(), -1_000_000);
    reverse(&shop, &mut ledger, Source::Discard(id("d1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 sealed 1000"]);
}

#[test]
fn a_count_undone_brings_its_differences_and_its_flags_back() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-03", "soap", "2300 mL");
    let count = shop.counts("2026-03-04", "soap");
    (count.sealed, count.amount) = (Some(1), Some(amount("100 mL")));
    let mut ledger = shop.ledger();
    assert!(ledger.found_stock().is_empty());
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 open 100", "r1/2 sealed 1000"]);
    reverse(&shop, &mut ledger, Source::Count(id("c1"))).unwrap();
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 empty 0", "r1/2 empty 0"]);
    assert_eq!(ledger.found_stock()[&id("soap")].surplus.ledger_units(), 300_000);
    reverse(&shop, &mut ledger, Source::Pour(id("p1"))).unwrap();
    assert!(ledger.found_stock().is_empty());
    assert_eq!(shelf(&ledger, "soap"), ["r1/1 sealed 1000", "r1/2 sealed 1000"]);
}
