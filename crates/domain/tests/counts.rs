//! What somebody sees on the shelf, laid over the books.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::Count;
use capful_domain::{Container, ContainerState, check_count};
use support::{TestShop, amount, container, day, dec, id};

/// Three bottles, of which one is open with 700 mL left.
fn three_bottles() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.pours("2026-03-03", "soap", "300 mL");
    shop
}

fn after_seeing(how_much: &str) -> Vec<String> {
    let mut shop = three_bottles();
    shop.sees("2026-03-09", "soap", how_much);
    shop.shelf("soap")
}

#[test]
fn the_whole_product_is_less_than_the_books() {
    assert_eq!(after_seeing("2700 mL"), ["r1/1 open 700", "r1/2 sealed 1000", "r1/3 sealed 1000"]);
    assert_eq!(after_seeing("2.4 L"), ["r1/1 open 400", "r1/2 sealed 1000", "r1/3 sealed 1000"]);
    assert_eq!(after_seeing("2000 mL"), ["r1/1 empty 0", "r1/2 sealed 1000", "r1/3 sealed 1000"]);
    assert_eq!(after_seeing("1400 mL"), ["r1/1 empty 0", "r1/2 open 400", "r1/3 sealed 1000"]);
    assert_eq!(after_seeing("1000 mL"), ["r1/1 empty 0", "r1/2 empty 0", "r1/3 sealed 1000"]);
    assert_eq!(after_seeing("1 mL"), ["r1/1 empty 0", "r1/2 empty 0", "r1/3 open 1"]);
    assert_eq!(after_seeing("0 mL"), ["r1/1 empty 0", "r1/2 empty 0", "r1/3 empty 0"]);
    assert_eq!(after_seeing("-5 mL"), ["r1/1 empty 0", "r1/2 empty 0", "r1/3 empty 0"]);
}

#[test]
fn the_whole_product_is_more_than_the_books() {
    assert_eq!(after_seeing("2900 mL"), ["r1/1 open 900", "r1/2 sealed 1000", "r1/3 sealed 1000"]);
    let mut more = vec!["r1/1 open 1000", "r1/2 sealed 1000", "r1/3 sealed 1000"];
    assert_eq!(after_seeing("3 L"), more);
    more.extend(["c1/1 sealed 1000", "c1/2 open 200"]);
    assert_eq!(after_seeing("4.2 L"), more);
}

/// A reading is some per cent off: it says nothing of bottles opened or found.
#[test]
fn a_reading_a_little_off_leaves_sealed_bottles_sealed() {
    let after = |how_much: &str, sd_share: Option<&str>| {
        let mut shop = TestShop::with_soap();
        shop.receives("2026-03-02", "soap", 2);
        shop.sees("2026-03-09", "soap", how_much).sd_share = sd_share.map(dec);
        shop.shelf("soap")
    };
    assert_eq!(after("1950 mL", None), ["r1/1 sealed 950", "r1/2 sealed 1000"]);
    assert_eq!(after("2050 mL", None), ["r1/1 sealed 1050", "r1/2 sealed 1000"]);
    // By one and a half standard deviations, by two and a half, and an exact one.
    assert_eq!(after("1970 mL", Some("0.01")), ["r1/1 sealed 970", "r1/2 sealed 1000"]);
    assert_eq!(after("1950 mL", Some("0.01")), ["r1/1 open 950", "r1/2 sealed 1000"]);
    assert_eq!(after("1999 mL", Some("0")), ["r1/1 open 999", "r1/2 sealed 1000"]);
    // Nobody fills a bottle by more than a tenth above its size, or takes that for full.
    assert_eq!(after("1890 mL", None), ["r1/1 open 890", "r1/2 sealed 1000"]);
    let found = ["r1/1 sealed 1000", "r1/2 sealed 1000", "c1/1 open 110"];
    assert_eq!(after("2110 mL", None), found);
}

#[test]
fn a_little_less_each_time_is_a_bottle_in_use() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.sees("2026-03-09", "soap", "960 mL");
    shop.sees("2026-03-16", "soap", "1010 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1010"]);
    shop.sees("2026-03-23", "soap", "950 mL");
    shop.sees("2026-03-30", "soap", "900 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900"]);
}

#[test]
fn a_reading_a_little_off_is_the_open_bottle_s_if_there_is_one() {
    // The open one holds 700 mL and has room for 300; the sealed ones hold 2 L.
    let full = ["r1/1 open 1050", "r1/2 sealed 1000", "r1/3 sealed 1000"];
    assert_eq!(after_seeing("3050 mL"), full);
    let empty = ["r1/1 empty 0", "r1/2 sealed 950", "r1/3 sealed 1000"];
    assert_eq!(after_seeing("1950 mL"), empty);
}

#[test]
fn a_bottle_that_was_not_empty_after_all() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "1100 mL");
    shop.sees("2026-03-04", "soap", "150 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 150"]);
    assert_eq!(shop.surplus("soap"), None);
}

#[test]
fn a_count_of_what_the_books_hold_stands_in_the_ledger() {
    let mut shop = three_bottles();
    let before = shop.ledger().movements().len();
    shop.sees("2026-03-09", "soap", "2700 mL");
    assert_eq!(shop.ledger().movements().len(), before + 1);
    assert!(shop.ledger().movements()[before].change.is_zero());
}

#[test]
fn fewer_sealed_bottles_than_the_books() {
    let mut shop = three_bottles();
    let count = shop.counts("2026-03-09", "soap");
    (count.sealed, count.amount) = (Some(1), Some(amount("250 mL")));
    let shelf = shop.shelf("soap");
    assert_eq!(shelf, ["r1/1 empty 0", "r1/2 open 250", "r1/3 sealed 1000"]);
}

#[test]
fn fewer_sealed_bottles_and_nobody_looked_into_the_open_one() {
    let mut shop = three_bottles();
    shop.counts("2026-03-09", "soap").sealed = Some(1);
    let shelf = shop.shelf("soap");
    assert_eq!(shelf, ["r1/1 empty 0", "r1/2 open 1000", "r1/3 sealed 1000"]);
    let opened = shop.ledger().container(&container("r1/2")).unwrap().opened.unwrap();
    assert!(!opened.seen);
    let mut shop = three_bottles();
    shop.counts("2026-03-09", "soap").sealed = Some(0);
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 empty 0", "r1/3 open 1000"]);
}

#[test]
fn as_many_sealed_bottles_as_the_books() {
    let mut shop = three_bottles();
    let count = shop.counts("2026-03-09", "soap");
    (count.sealed, count.amount) = (Some(2), Some(amount("500 mL")));
    let shelf = ["r1/1 open 500", "r1/2 sealed 1000", "r1/3 sealed 1000"];
    assert_eq!(shop.shelf("soap"), shelf);
    shop.counts("2026-03-10", "soap").sealed = Some(2);
    assert_eq!(shop.shelf("soap"), shelf);
}

#[test]
fn more_sealed_bottles_than_the_books() {
    // The books opened one by themselves: it was not.
    let mut shop = three_bottles();
    let count = shop.counts("2026-03-09", "soap");
    (count.sealed, count.amount) = (Some(3), Some(amount("0 mL")));
    let all_sealed = ["r1/1 sealed 1000", "r1/2 sealed 1000", "r1/3 sealed 1000"];
    assert_eq!(shop.shelf("soap"), all_sealed);
    // The books used one up by themselves: it is there.
    let mut shop = three_bottles();
    shop.expects("2026-03-04", "soap", "900 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 open 800", "r1/3 sealed 1000"]);
    shop.counts("2026-03-09", "soap").sealed = Some(3);
    assert_eq!(shop.shelf("soap"), all_sealed);
    // One more than ever came.
    shop.counts("2026-03-10", "soap").sealed = Some(4);
    assert_eq!(shop.shelf("soap")[3], "c2/1 sealed 1000");
}

#[test]
fn a_bottle_that_somebody_opened_stays_open_whatever_is_sealed() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.opens("2026-03-03", "soap");
    shop.counts("2026-03-09", "soap").sealed = Some(2);
    let shelf = ["r1/1 open 1000", "c1/1 sealed 1000", "c1/2 sealed 1000"];
    assert_eq!(shop.shelf("soap"), shelf);
}

#[test]
fn a_slip_of_the_keyboard_does_not_fill_the_shelf() {
    let mut shop = TestShop::with_soap();
    shop.counts("2026-03-09", "soap").sealed = Some(4_000_000_000);
    assert_eq!(shop.ledger().containers().len(), 1000);
    let mut shop = TestShop::with_soap();
    shop.sees("2026-03-09", "soap", "4000000 L");
    let ledger = shop.ledger();
    assert_eq!(ledger.containers().len(), 1000);
    assert_eq!(ledger.left_of(&id("soap")).ledger_units(), 4_000_000_000_000);
}

#[test]
fn one_bottle_is_counted_by_its_name() {
    let mut shop = three_bottles();
    shop.sees("2026-03-09", "soap", "450 mL").container = Some(container("r1/1"));
    shop.sees("2026-03-09", "soap", "990 mL").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 450", "r1/2 open 990", "r1/3 sealed 1000"]);
    shop.counts("2026-03-10", "soap").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap")[1], "r1/2 open 990", "nothing was said of it");
    let sealed = shop.counts("2026-03-11", "soap");
    (sealed.container, sealed.sealed) = (Some(container("r1/2")), Some(1));
    assert_eq!(shop.shelf("soap")[1], "r1/2 sealed 1000");
    let not = shop.counts("2026-03-12", "soap");
    (not.container, not.sealed) = (Some(container("r1/1")), Some(0));
    assert_eq!(shop.shelf("soap")[0], "r1/1 open 450", "not sealed is not full");
}

#[test]
fn one_bottle_seen_after_it_was_thrown_away_is_back() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.discards("2026-03-03", "soap");
    shop.sees("2026-03-04", "soap", "0 mL").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0"]);
    shop.sees("2026-03-05", "soap", "400 mL").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 400"]);
}

#[test]
fn a_mix_is_counted_as_it_stands_water_and_all() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    shop.sees("2026-03-04", "soap", "300 mL").container = Some(container("m1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 open 50"]);
}

/// Gross less tare, by density.
#[test]
fn bottles_are_weighed_with_what_they_stand_in() {
    let mut shop = TestShop::with_soap();
    (shop.soap().density_g_ml, shop.soap().tare_g) = (Some(dec("1.25")), Some(dec("80")));
    shop.receives("2026-03-02", "soap", 2);
    let one = shop.counts("2026-03-03", "soap");
    (one.gross_g, one.container) = (Some(dec("830")), Some(container("r1/1")));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 600", "r1/2 sealed 1000"]);
    // Both on the scale: two tares.
    shop.counts("2026-03-04", "soap").gross_g = Some(dec("1910"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 400", "r1/2 sealed 1000"]);
    // The sealed one counted, the open one weighed.
    let apart = shop.counts("2026-03-05", "soap");
    (apart.gross_g, apart.sealed) = (Some(dec("205")), Some(1));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 100", "r1/2 sealed 1000"]);
    // Lighter than its tare is empty.
    let light = shop.counts("2026-03-06", "soap");
    (light.gross_g, light.sealed) = (Some(dec("75")), Some(1));
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 sealed 1000"]);
}

#[test]
fn the_first_count_of_a_product_that_no_receipt_brought() {
    let mut shop = TestShop::with_soap();
    shop.soap().shelf_days = Some(365);
    shop.sees("2026-03-02", "soap", "2300 mL");
    assert_eq!(shop.shelf("soap"), ["c1/1 sealed 1000", "c1/2 sealed 1000", "c1/3 open 300"]);
    assert_eq!(shop.use_by("c1/1"), Some(support::day("2027-03-02")));
    assert_eq!(shop.surplus("soap"), None);
    let mut shop = TestShop::with_soap();
    let count = shop.counts("2026-03-02", "soap");
    (count.sealed, count.amount) = (Some(2), Some(amount("300 mL")));
    assert_eq!(shop.shelf("soap"), ["c1/1 sealed 1000", "c1/2 sealed 1000", "c1/3 open 300"]);
    let mut shop = TestShop::with_soap();
    shop.sees("2026-03-02", "soap", "0 mL");
    assert!(shop.shelf("soap").is_empty());
}

#[test]
fn of_two_that_are_open_in_the_books_only_the_fullest_is_the_sealed_one() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.expects("2026-03-03", "soap", "10 mL");
    shop.sees("2026-03-04", "soap", "1150 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 1000", "c1/1 open 150"]);
    let count = shop.counts("2026-03-09", "soap");
    (count.sealed, count.amount) = (Some(1), Some(amount("0 mL")));
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1000", "c1/1 empty 0"]);
}

#[test]
fn one_bottle_counted_that_the_books_do_not_know() {
    let mut shop = TestShop::with_soap();
    shop.sees("2026-03-02", "soap", "300 mL").container = Some(container("old/1"));
    assert_eq!(shop.shelf("soap"), ["c1/1 open 300"]);
}

/// Emptied by a count of nothing, then many are there: one of them may be in use, no more.
#[test]
fn of_many_that_a_count_finds_one_is_open_at_most() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 4);
    shop.opens("2026-03-02", "soap");
    shop.sees("2026-03-09", "soap", "0 mL");
    let mut by_hand = TestShop { facts: shop.facts.clone(), expected: Vec::new() };
    shop.sees("2026-03-10", "soap", "5300 mL");
    let ledger = shop.ledger();
    let open: Vec<_> =
        ledger.containers().iter().filter(|c| c.state() == ContainerState::Open).collect();
    assert_eq!(open.len(), 1, "{:?}", shop.shelf("soap"));
    assert_eq!(ledger.left_of(&id("soap")).ledger_units(), 5_300_000);
    by_hand.counts("2026-03-10", "soap").sealed = Some(6);
    let sealed = by_hand.shelf("soap").into_iter().filter(|line| line.ends_with("sealed 1000"));
    assert_eq!(sealed.count(), 6);
}

#[test]
fn a_count_that_cannot_be_true_is_told_so() {
    let mut shop = TestShop::with_soap();
    shop.soap().tare_g = Some(dec("230"));
    shop.receives("2026-03-02", "soap", 7);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    let ledger = shop.ledger();
    let live = ledger.live_containers(&id("soap"), day("2026-03-09"));
    let bottles = |open: usize| [&live[..open], &live[2..]].concat();
    let said = |count: &Count, live: &[&Container]| {
        let own = count.container.as_ref().and_then(|c| ledger.container_named(c, &id("soap")));
        check_count(count, &shop.facts.products[0], own, live).err().unwrap_or_default()
    };
    let mut count = TestShop::with_soap().counts("2026-03-09", "soap").clone();
    assert!(said(&count, &live).starts_with("say what was seen"));
    count.gross_g = Some(dec("900"));
    assert_eq!(
        said(&count, &live),
        "name the container that was weighed: 8 of it are on the shelf"
    );
    count.sealed = Some(6);
    assert_eq!(said(&count, &live), "name the container that was weighed: 2 of it are open");
    assert_eq!(said(&count, &bottles(1)), "", "one open one is the one on the scale");
    count.sealed = None;
    count.container = Some(container("r1/2"));
    assert_eq!(said(&count, &live), "");
    count.gross_g = Some(dec("229"));
    assert_eq!(said(&count, &live), "less than the empty container weighs (230 g)");
    count.gross_g = None;
    count.amount = Some(amount("1.2 L"));
    assert_eq!(said(&count, &live), "a container of it holds 1000 mL at most");
    count.amount = Some(amount("3 each"));
    assert!(said(&count, &live).contains("a quantity in mL"), "{}", said(&count, &live));
    count.container = Some(container("m1"));
    count.amount = Some(amount("600 mL"));
    assert_eq!(said(&count, &live), "");
    count.amount = Some(amount("900 mL"));
    assert_eq!(said(&count, &live), "more than was mixed in it");
    (count.amount, count.sealed) = (None, Some(2));
    assert_eq!(said(&count, &live), "one container is named: `sealed` is 0 or 1");
}
