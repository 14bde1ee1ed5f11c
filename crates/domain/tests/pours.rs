//! Which container a pour comes from, and what happens where the books hold too little.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::Method;
use capful_domain::{Ledger, MovementKind, Source};
use support::{TestShop, amount, container, day, id, ratio};

fn poured_from(ledger: &Ledger, pour: &str) -> Vec<String> {
    let source = Source::Pour(id(pour));
    let own = ledger.movements().iter().filter(|m| m.source == source);
    let pours = own.filter(|m| m.kind == MovementKind::Poured);
    pours.map(|m| format!("{} {}", m.container, m.change.abs().ledger_units() / 1000)).collect()
}

#[test]
fn the_open_bottle_is_poured_before_the_sealed_one_that_expires_sooner() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1).best_before = Some(day("2026-12-31"));
    shop.opens("2026-03-03", "soap");
    shop.receives("2026-03-04", "soap", 1).best_before = Some(day("2026-04-01"));
    shop.pours("2026-03-05", "soap", "300 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 700", "r2/1 sealed 1000"]);
}

#[test]
fn of_the_sealed_ones_the_earliest_use_by_goes_first_then_the_first_to_come() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.receives("2026-03-03", "soap", 2).best_before = Some(day("2026-06-30"));
    shop.receives("2026-03-04", "soap", 1).best_before = Some(day("2026-05-31"));
    shop.receives("2026-03-05", "soap", 1);
    assert_eq!(shop.pouring_order("soap", "2026-03-06"), ["r3/1", "r2/1", "r2/2", "r1/1", "r4/1"]);
}

#[test]
fn what_is_past_its_use_by_waits_while_a_good_one_serves() {
    let mut shop = TestShop::with_soap();
    shop.soap().open_days = Some(10);
    shop.receives("2026-03-02", "soap", 1);
    shop.opens("2026-03-02", "soap").container = Some(container("r1/1"));
    shop.receives("2026-03-02", "soap", 1).best_before = Some(day("2026-03-20"));
    shop.receives("2026-03-02", "soap", 1);
    assert_eq!(shop.use_by("r1/1"), Some(day("2026-03-12")));
    assert_eq!(shop.pouring_order("soap", "2026-03-12"), ["r1/1", "r2/1", "r3/1"]);
    assert_eq!(shop.pouring_order("soap", "2026-03-13"), ["r2/1", "r3/1", "r1/1"]);
    assert_eq!(shop.pouring_order("soap", "2026-03-21"), ["r3/1", "r1/1", "r2/1"]);
    shop.pours("2026-03-21", "soap", "900 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 1000", "r2/1 sealed 1000", "r3/1 open 100"]);
    // The books never block wet hands: where nothing else is left, the past ones serve.
    shop.pours("2026-03-21", "soap", "1500 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r2/1 open 600", "r3/1 empty 0"]);
}

/// Common practice: a sealed best-before never outlives an opened life, nor the other way round.
#[test]
fn an_opened_bottle_is_good_until_the_earlier_of_its_two_ends() {
    let mut shop = TestShop::with_soap();
    (shop.soap().shelf_days, shop.soap().open_days) = (Some(365), Some(30));
    shop.receives("2026-03-02", "soap", 2).best_before = Some(day("2026-03-20"));
    shop.receives("2026-03-02", "soap", 1);
    shop.opens("2026-03-10", "soap").container = Some(container("r1/1"));
    shop.opens("2026-03-10", "soap").container = Some(container("r2/1"));
    assert_eq!(shop.use_by("r1/1"), Some(day("2026-03-20")));
    assert_eq!(shop.use_by("r1/2"), Some(day("2026-03-20")));
    assert_eq!(shop.use_by("r2/1"), Some(day("2026-04-09")));
    shop.receives("2026-03-02", "soap", 1);
    assert_eq!(shop.use_by("r3/1"), Some(day("2027-03-02")));
    (shop.soap().shelf_days, shop.soap().open_days) = (None, None);
    assert_eq!(shop.use_by("r2/1"), None);
}

#[test]
fn a_pour_runs_on_into_the_next_bottle_and_opens_it() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 3);
    shop.pours("2026-03-03", "soap", "2200 mL");
    let shelf = ["r1/1 empty 0", "r1/2 empty 0", "r1/3 open 800"];
    assert_eq!(shop.shelf("soap"), shelf);
    let ledger = shop.ledger();
    assert_eq!(poured_from(&ledger, "p1"), ["r1/1 1000", "r1/2 1000", "r1/3 200"]);
    let opened = ledger.container(&container("r1/3")).unwrap().opened.unwrap();
    assert!(!opened.seen, "nobody said which bottle it was");
    assert_eq!(opened.on, day("2026-03-03"));
}

#[test]
fn a_pour_that_names_its_bottle_comes_from_there() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-03", "soap", "100 mL").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1000", "r1/2 open 900"]);
    assert!(shop.ledger().container(&container("r1/2")).unwrap().opened.unwrap().seen);
    // The rest of what it had is not taken from its neighbour.
    shop.pours("2026-03-03", "soap", "950 mL").container = Some(container("r1/2"));
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1000", "r1/2 empty 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "50 mL");
}

#[test]
fn a_measured_pour_of_the_mix_takes_its_share_of_product() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "600 mL").ratio = Some(ratio("5:1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900"]);
}

#[test]
fn a_pour_of_nothing_moves_nothing() {
    let mut shop = TestShop::with_soap();
    shop.pours("2026-03-01", "soap", "0 mL");
    assert!(shop.shelf("soap").is_empty(), "no bottle is found by pouring nothing");
    shop.receives("2026-03-02", "soap", 1);
    shop.pours("2026-03-03", "soap", "0 mL");
    shop.pours("2026-03-03", "soap", "0 mL").container = Some(container("r1/1"));
    shop.mixes("2026-03-03", "soap", "0 mL", "5:1");
    assert_eq!(shop.shelf("soap")[0], "r1/1 sealed 1000");
}

/// Rule 4.
#[test]
fn a_pour_larger_than_the_books_is_taken_as_it_happened() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 2);
    shop.pours("2026-03-03", "soap", "2300 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "r1/2 empty 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "300 mL");
    let found = shop.ledger().found_stock().remove(&id("soap")).unwrap();
    assert!(found.measured);
    assert_eq!(found.at, shop.at("2026-03-03"));
    // A receipt is no count: the product stays flagged.
    shop.receives("2026-03-04", "soap", 1);
    assert_eq!(shop.surplus("soap").unwrap(), "300 mL");
    shop.sees("2026-03-05", "soap", "1000 mL");
    assert_eq!(shop.surplus("soap"), None);
    shop.pours("2026-03-06", "soap", "1001 mL");
    assert_eq!(shop.surplus("soap").unwrap(), "1 mL");
}

#[test]
fn a_pour_of_what_no_receipt_brought_finds_it() {
    let mut shop = TestShop::with_soap();
    shop.expects("2026-03-03", "soap", "40 mL");
    shop.expects("2026-03-04", "soap", "60 mL");
    assert_eq!(shop.shelf("soap"), ["j1/1 empty 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "100 mL");
    assert!(!shop.ledger().found_stock()[&id("soap")].measured);
    shop.counts("2026-03-05", "soap").sealed = Some(0);
    assert_eq!(shop.surplus("soap"), None, "seeing that there is none is a count");
}

/// That a job took something where nothing was left is not known of one that nobody measured.
#[test]
fn a_job_that_nobody_measured_finds_no_bottle_where_the_last_was_thrown_away() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.opens("2026-03-02", "soap");
    shop.discards("2026-03-03", "soap");
    shop.expects("2026-03-04", "soap", "40 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "40 mL", "it is flagged all the same");
    shop.pours("2026-03-05", "soap", "30 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0", "p1/1 empty 0"], "measured: it was there");
}

/// A flag goes with the next count, even where the books hold nothing but what was thrown away.
#[test]
fn a_count_of_nothing_after_a_discard_is_a_count() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.discards("2026-03-03", "soap");
    shop.pours("2026-03-04", "soap", "40 mL").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 discarded 0"]);
    assert_eq!(shop.surplus("soap").unwrap(), "40 mL");
    shop.sees("2026-03-05", "soap", "0 mL");
    assert_eq!(shop.surplus("soap"), None);
}

/// Rule 5.
#[test]
fn a_job_that_nobody_measured_is_deducted_as_expected_and_marked_so() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.expects("2026-03-03", "soap", "120 mL");
    let written = shop.pours("2026-03-04", "soap", "80 mL");
    (written.job, written.method) = (Some(id("j9")), Some(Method::Expected));
    shop.pours("2026-03-04", "soap", "50 mL").job = Some(id("j8"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 750"]);
    let ledger = shop.ledger();
    let poured = ledger.movements().iter().filter(|m| m.kind == MovementKind::Poured);
    let sources: Vec<Source> = poured.map(|m| m.source.clone()).collect();
    let expected = |job| Source::Expected(id(job));
    assert_eq!(sources, [expected("j1"), expected("j9"), Source::Pour(id("p2"))]);
    let snapshot = shop.as_of("2026-04-01");
    assert_eq!(snapshot.measured_pairs(), [(&id("j8"), &id("soap"))].into());
    assert_eq!(snapshot.poured_pairs().len(), 2);
}

#[test]
fn a_mix_takes_its_product_and_serves_its_own_ratio_only() {
    let mut shop = TestShop::with_soap();
    (shop.soap().mix_days, shop.soap().open_days) = (Some(14), Some(90));
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 open 100"]);
    assert_eq!(shop.use_by("m1"), Some(day("2026-03-17")));
    shop.pours("2026-03-04", "soap", "60 mL").ratio = Some(ratio("5:1"));
    shop.pours("2026-03-04", "soap", "110 mL").ratio = Some(ratio("10:1"));
    shop.pours("2026-03-04", "soap", "1 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 889", "m1 open 90"]);
    // Past its own end it waits behind the concentrate.
    shop.pours("2026-03-18", "soap", "60 mL").ratio = Some(ratio("5:1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 879", "m1 open 90"]);
    // Poured from by name, its own ratio goes without saying.
    shop.pours("2026-03-19", "soap", "60 mL").container = Some(container("m1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 879", "m1 open 80"]);
}

#[test]
fn water_does_not_make_a_concentrate_last_longer() {
    let mut shop = TestShop::with_soap();
    shop.soap().mix_days = Some(30);
    shop.receives("2026-03-02", "soap", 1).best_before = Some(day("2026-03-10"));
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    assert_eq!(shop.use_by("m1"), Some(day("2026-03-10")));
    shop.soap().mix_days = None;
    assert_eq!(shop.use_by("m1"), Some(day("2026-03-10")));
}

#[test]
fn a_mix_keeps_the_lot_and_the_cost_of_what_went_in() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1).lot = Some("B77".into());
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    let ledger = shop.ledger();
    let mix = ledger.container(&container("m1")).unwrap();
    assert_eq!(mix.lot.name(), "B77");
    assert_eq!(mix.lot.unit_cost.minor(), 200);
    assert_eq!(mix.value_of(mix.left).minor(), 200);
}

/// It is there, so it is on the shelf; what the books did not hold of it cost nothing known.
#[test]
fn a_mix_of_more_than_the_books_hold_stands_at_the_cost_of_what_they_held() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "12 L", "5:1");
    assert_eq!(shop.shelf("soap"), ["r1/1 empty 0", "m1 open 2000"]);
    let ledger = shop.ledger();
    let mix = ledger.container(&container("m1")).unwrap();
    assert_eq!(mix.value_of(mix.left).minor(), 2000, "one bottle's price");
    let found = ledger.found_stock().remove(&id("soap")).unwrap();
    assert_eq!((found.surplus.ledger_units(), found.measured), (1_000_000, true));
    assert_eq!(found.kind, Some(MovementKind::Mixed));
}

/// What is taken back was not found, and a flag says what it was taken for.
#[test]
fn found_stock_knows_what_it_was_taken_for() {
    let mut shop = TestShop::with_soap();
    shop.pours("2026-03-03", "soap", "100 mL");
    shop.discards("2026-03-04", "soap").amount = Some(amount("200 mL"));
    let mut ledger = shop.ledger();
    let kind = |ledger: &Ledger| ledger.found_stock().remove(&id("soap")).map(|f| f.kind);
    assert_eq!(kind(&ledger), Some(None), "two kinds");
    ledger.reverse(&Source::Pour(id("p1")), shop.at("2026-03-05")).unwrap();
    assert_eq!(kind(&ledger), Some(Some(MovementKind::Discarded)));
    assert_eq!(ledger.found_stock()[&id("soap")].surplus.ledger_units(), 200_000);
    ledger.reverse(&Source::Discard(id("d1")), shop.at("2026-03-05")).unwrap();
    assert_eq!(kind(&ledger), None);
}

#[test]
fn a_mix_is_not_made_of_a_mix() {
    let mut shop = TestShop::with_soap();
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    shop.mixes("2026-03-03", "soap", "1200 mL", "5:1");
    assert_eq!(shop.shelf("soap"), ["m1/1 empty 0", "m1 open 100", "m2 open 200"]);
    assert_eq!(shop.surplus("soap").unwrap(), "300 mL");
}

/// Ids are unique in their file only: a count `1` may find what a receipt `1` brings later.
#[test]
fn rows_of_two_files_may_bear_one_id() {
    let mut shop = TestShop::with_soap();
    shop.product("polish", "250 mL");
    shop.sees("2026-03-01", "polish", "500 mL").id = id("1");
    shop.receives("2026-03-02", "soap", 2).id = id("1");
    shop.pours("2026-03-03", "soap", "100 mL").container = Some(container("1/1"));
    shop.pours("2026-03-03", "polish", "50 mL").container = Some(container("1/1"));
    assert_eq!(shop.shelf("polish"), ["1/1 open 200", "1/2 sealed 250"]);
    assert_eq!(shop.shelf("soap"), ["1/3 open 900", "1/4 sealed 1000"]);
}

#[test]
fn a_bottle_of_another_product_is_not_poured() {
    let mut shop = TestShop::with_soap();
    shop.product("polish", "250 mL");
    shop.receives("2026-03-02", "soap", 1);
    shop.receives("2026-03-02", "polish", 1);
    shop.pours("2026-03-03", "polish", "50 mL").container = Some(container("r1/1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 sealed 1000"]);
    assert_eq!(shop.shelf("polish"), ["r2/1 open 200"]);
}

#[test]
fn a_receipt_may_bring_another_size_than_usual() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1).container_size = Some(support::dec("5000"));
    shop.pours("2026-03-03", "soap", "1500 mL");
    assert_eq!(shop.shelf("soap"), ["r1/1 open 3500"]);
    let ledger = shop.ledger();
    let half = ledger.product(&id("soap")).unwrap().quantity(amount("2500 mL")).unwrap();
    assert_eq!(ledger.containers()[0].value_of(half).minor(), 1000);
}

#[test]
fn rows_of_products_that_the_shop_does_not_know_are_passed_over() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "wax", 1);
    shop.pours("2026-03-03", "wax", "50 mL");
    shop.pours("2026-03-03", "soap", "5 kg");
    shop.pours("2026-03-03", "soap", "5 m");
    shop.opens("2026-03-03", "wax");
    shop.discards("2026-03-03", "wax");
    shop.mixes("2026-03-03", "wax", "50 mL", "5:1");
    shop.sees("2026-03-03", "wax", "50 mL");
    let ledger = shop.ledger();
    assert_eq!(ledger.found_stock().len(), 1, "5 kg of soap at 1 g/mL are 5 L");
    assert!(ledger.containers().iter().all(|c| c.product == id("soap")));
}

#[test]
fn of_two_that_end_together_the_mix_is_poured_first() {
    let mut shop = TestShop::with_soap();
    shop.receives("2026-03-02", "soap", 1);
    shop.mixes("2026-03-03", "soap", "600 mL", "5:1");
    shop.pours("2026-03-04", "soap", "60 mL").ratio = Some(ratio("5:1"));
    assert_eq!(shop.shelf("soap"), ["r1/1 open 900", "m1 open 90"]);
}
