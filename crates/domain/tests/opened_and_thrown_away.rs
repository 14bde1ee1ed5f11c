//! What openings and discards say, with and without a container's name.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::DiscardReason;
use capful_domain::{ContainerState, MovementKind, Source};
use support::{TestShop, amount, container, day, id};

fn opened_on(shop: &TestShop, name: &str) -> (chrono::NaiveDate, bool) {
    let opened = shop.ledger().container(&container(name)).unwrap().opened.unwrap();
    (opened.on, opened.seen)
}

#[test]
fn a_new_bottle_opened_says_that_the_last_one_is_empty() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.opens("2026-03-02", "soap");
    shop.expects("2026-03-03", "soap", "300 mL");
    shop.opens("2026-03-09", "soap");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 1000", "r1/3 sealed 1000"]);
    assert_eq!(opened_on(&shop, "r1/2"), (day("2026-03-09"), true));
    assert_eq!(shop.surplus("soap"), None, "less than the books is nothing found");
}

#[test]
fn a_bottle_that_the_books_opened_by_themselves_is_confirmed() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.opens("2026-03-02", "soap");
    shop.expects("2026-03-03", "soap", "1200 mL");
    assert_eq!(opened_on(&shop, "r1/2"), (day("2026-03-03"), false));
    shop.opens("2026-03-05", "soap");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 1000", "r1/3 sealed 1000"]);
    assert_eq!(opened_on(&shop, "r1/2"), (day("2026-03-05"), true));
}

#[test]
fn a_bottle_that_the_books_opened_long_ago_is_used_up() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.expects("2026-03-03", "soap", "600 mL");
    shop.opens("2026-03-05", "soap");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 1000", "r1/3 sealed 1000"]);
}

#[test]
fn the_last_bottle_that_came_is_the_one_opened_however_much_the_books_took_of_it() {
    for taken in ["600 mL", "1000 mL"] {
        let mut shop = TestShop::with_soap();
        shop.receives("2026-03-02", "soap", 1);
        shop.expects("2026-03-03", "soap", taken);
        shop.opens("2026-03-05", "soap");
        assert_eq!(shop.shelf("soap"), ["r1/1 open 1000"], "no second one is made up");
        assert_eq!(opened_on(&shop, "r1/1"), (day("2026-03-05"), true));
    }
}

/// What is left of a bottle past its use-by is passed over, and gone with the next opening.
#[test]
fn the_bottle_before_the_one_that_the_books_opened_is_empty_too() {
    let mut shop = TestShop::with_soap();
    shop.soap().open_days = Some(5);
    shop.receives("2026-03-02", "soap", 2);
    shop.opens("2026-03-02", "soap");
    shop.expects("2026-03-03", "soap", "300 mL");
    shop.expects("2026-03-20", "soap", "100 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 700", "r1/2 open 900"]);
    shop.opens("2026-03-21", "soap");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 1000"]);
}

#[test]
fn a_bottle_opened_that_no_receipt_brought_is_found() {
    let mut shop = TestShop::with_soap();
    shop.opens("2026-03-05", "soap");
    assert_eq!(shop.shelf("soap"), ["o1/1 open 1000"]);
    shop.opens("2026-03-09", "soap");
    assert_eq!(shop.shelf("soap"), ["o1/1 empty 0", "o2/1 open 1000"]);
    assert_eq!(shop.surplus("soap"), None, "an opening is no pour past the books");
}

#[test]
fn a_bottle_opened_by_name_says_nothing_of_the_others() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.opens("2026-03-02", "soap").container = Some(container("r1/3"));
    shop.opens("2026-03-03", "soap").container = Some(container("r1/2"));
    shop.opens("2026-03-04", "soap").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1000", "r1/2 open 1000", "r1/3 open 1000"]);
    assert_eq!(opened_on(&shop, "r1/2"), (day("2026-03-03"), true), "it is opened once");
    // The one opened last is the one in use.
    shop.opens("2026-03-05", "soap");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 1000", "r1/2 empty 0", "r1/3 open 1000"]);
}

#[test]
fn a_bottle_that_was_thrown_away_or_used_up_is_not_full_again_for_being_named() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.discards("2026-03-03", "soap").container = Some(container("r1/1"));
    shop.pours("2026-03-03", "soap", "1000 mL").container = Some(container("r1/2"));
    let opened = opened_on(&shop, "r1/2");
    shop.opens("2026-03-04", "soap").container = Some(container("r1/1"));
    shop.opens("2026-03-04", "soap").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0", "r1/2 empty 0"]);
    assert_eq!(opened_on(&shop, "r1/2"), opened);
    let ledger = shop.ledger();
    let last = ledger.movements().last().unwrap();
    assert_eq!((last.kind, last.change.ledger_units()), (MovementKind::Opened, 0));
    let said = ledger.opening_said(&id("o1")).unwrap();
    assert_eq!((said.opened, said.found, said.used_up), (None, false, None));
}

/// Coating that has stood open for weeks does not become fresh by being opened again.
#[test]
fn a_bottle_that_is_open_stays_as_old_and_as_empty_as_it_is() {
    let mut shop = TestShop::with_soap();
    shop.soap().open_days = Some(14);
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-02", "soap", "300 mL");
    shop.opens("2026-04-20", "soap").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 700"]);
    assert_eq!(shop.use_by("r1/1"), Some(day("2026-03-16")));
    let ledger = shop.ledger();
    let state = ledger.container_named(&container("r1/1"), &id("soap")).unwrap().state();
    assert_eq!(state, ContainerState::Open);
    assert!(ledger.container_named(&container("r1/1"), &id("wax")).is_none());
}

/// The books took the first to be used up too soon; that somebody opens the next one by its name
/// says when it was.
#[test]
fn a_bottle_opened_by_name_that_the_books_had_opened_too_soon_was_sealed_until_then() {
    let mut shop = TestShop::with_soap();
    shop.soap().open_days = Some(14);
    shop.receives("2026-03-02", "soap", 2);
    shop.opens("2026-03-02", "soap");
    shop.expects("2026-03-03", "soap", "1200 mL");
    let mut late = TestShop { facts: shop.facts.clone(), expected: shop.expected.clone() };
    shop.opens("2026-03-10", "soap").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 1000"]);
    assert_eq!(opened_on(&shop, "r1/2"), (day("2026-03-10"), true));
    // Past its open life it is not made fresh.
    late.opens("2026-04-10", "soap").container = Some(container("r1/2"));
    assert_eq!(late.shelf("soap"), ["r1/1 empty 0", "r1/2 open 800"]);
    assert_eq!(opened_on(&late, "r1/2"), (day("2026-03-03"), false));
}

#[test]
fn an_opening_tells_what_it_took_to_be_used_up() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.opens("2026-03-02", "soap");
    shop.pours("2026-03-03", "soap", "300 mL");
    shop.opens("2026-03-09", "soap");
    let mut ledger = shop.ledger();
    let first = ledger.opening_said(&id("o1")).unwrap();
    assert_eq!((first.opened, first.found), (Some(container("r1/1")), false));
    assert_eq!(first.used_up, None);
    // No sealed one was left: the new one is one that no receipt brought.
    let second = ledger.opening_said(&id("o2")).unwrap();
    assert_eq!((second.opened, second.found), (Some(container("o2/1")), true));
    let (emptied, held) = second.used_up.unwrap();
    assert_eq!((emptied, held.ledger_units()), (container("r1/1"), 700_000));
    ledger.reverse(&Source::Opening(id("o2")), shop.at("2026-03-10")).unwrap();
    assert_eq!(ledger.opening_said(&id("o2")), None);
}

#[test]
fn an_opening_that_names_a_mix_fills_nothing() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    shop.pours("2026-03-04", "soap", "300 mL").container = Some(container("m1"));
    shop.opens("2026-03-05", "soap").container = Some(container("m1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 open 50"]);
}

/// Three bottles: one open, one sealed that ends soon, one sealed that ends late.
fn three_bottles() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-01", "soap", 1).best_before = Some(day("2026-05-31"));
    shop.opens("2026-03-01", "soap");
    shop.receives("2026-03-02", "soap", 1).best_before = Some(day("2026-03-31"));
    shop.receives("2026-03-03", "soap", 1).best_before = Some(day("2026-12-31"));
    shop
}

#[test]
fn what_is_thrown_away_without_a_name_is_told_by_the_reason() {
    let discarded = |reason, on| {
        let mut shop = three_bottles();
        shop.discards(on, "soap").reason = reason;
        let shelf = shop.shelf("soap");
        let gone: Vec<String> = shelf.into_iter().filter(|l| l.contains("discarded")).collect();
        let ledger = shop.ledger();
        (gone.join(", "), ledger.movements().last().unwrap().kind)
    };
    let gone = |name: &str, kind| (format!("{name} discarded 0"), kind);
    let thrown = MovementKind::Discarded;
    assert_eq!(discarded(Some(DiscardReason::Expired), "2026-03-10"), gone("r2/1", thrown));
    assert_eq!(discarded(Some(DiscardReason::Spilled), "2026-03-10"), gone("r1/1", thrown));
    assert_eq!(discarded(Some(DiscardReason::Damaged), "2026-03-10"), gone("r1/1", thrown));
    assert_eq!(discarded(None, "2026-03-10"), gone("r1/1", thrown));
    let returned = Some(DiscardReason::Returned);
    assert_eq!(discarded(returned, "2026-03-10"), gone("r3/1", MovementKind::Returned));
    // A bottle past its use-by stands last on the shelf: still, a good one is sent back.
    assert_eq!(discarded(returned, "2026-06-10"), gone("r3/1", MovementKind::Returned));
}

#[test]
fn a_part_thrown_away_comes_out_of_the_bottle_in_use() {
    let mut shop = three_bottles();
    shop.discards("2026-03-04", "soap").amount = Some(amount("200 mL"));
    let named = shop.discards("2026-03-04", "soap");
    (named.amount, named.container) = (Some(amount("0.1 L")), Some(container("r2/1")));
    let shelf = ["r1/1 open 800", "r2/1 open 900", "r3/1 sealed 1000"];
    assert_eq!(shop.shelf("soap"), shelf);
    // More than there was: the surplus is found first, as with a pour.
    shop.discards("2026-03-05", "soap").amount = Some(amount("3 L"));
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r2/1 empty 0", "r3/1 empty 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "300 mL");
}

#[test]
fn a_part_of_a_mix_thrown_away_is_that_much_mix() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    let part = shop.discards("2026-03-04", "soap");
    (part.amount, part.container) = (Some(amount("300 mL")), Some(container("m1")));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 open 50"]);
    shop.discards("2026-03-05", "soap").container = Some(container("m1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 discarded 0"]);
}

#[test]
fn nothing_is_thrown_away_where_nothing_is_left() {
    let mut shop = TestShop::with_soap();
    shop.discards("2026-03-04", "soap");
    assert!(shop.ledger().movements().is_empty());
    shop.receives("2026-03-05", "soap", 1);
    shop.discards("2026-03-06", "soap").container = Some(container("r1/1"));
    shop.discards("2026-03-06", "soap").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0"]);
    assert_eq!(shop.ledger().left_of(&id("soap")).ledger_units(), 0);
}
