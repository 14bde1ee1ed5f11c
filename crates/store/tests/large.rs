//! More rows at once than a statement takes values.

#![allow(clippy::unwrap_used)]

mod common;

use capful_folder::cells::MOST_CONTAINERS;
use capful_store::{Change, EventKind};
use common::{Fresh, TestShop, noon, pour, receipt};

on_both!(a_long_history_is_taken_over_at_once, the_largest_receipt_comes_and_goes);

async fn a_long_history_is_taken_over_at_once(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 1)])).await;
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    facts.pours.extend((0..33_000).map(|n| pour(&format!("p{n}"), noon(3), "soap", 0)));
    facts.pours.push(pour("last", noon(4), "soap", 100));
    shop.done(Change::Import { facts: Box::new(facts), expected: vec![] }).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900"]);
    shop.is_as_replayed().await;
}

async fn the_largest_receipt_comes_and_goes(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", MOST_CONTAINERS)])).await;
    shop.reverses(EventKind::Receipt, "r1").await;
    let shelf = shop.shelf("soap").await;
    assert!(shelf.len() == 10_000 && shelf.iter().all(|line| line.ends_with("empty 0")));
    shop.is_as_replayed().await;
}
