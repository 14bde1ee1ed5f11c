//! The stamp of a shop's set-up changes with everything that is set up, and with nothing else; the
//! books are read together with what they were made of.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{JobType, Quantity, SheetRow};
use capful_store::{Change, EventKind, SetupVersion};
use common::{Fresh, TestShop, id, ml, noon, pour, receipt, soap};

on_both!(
    whatever_is_set_up_changes_the_stamp,
    what_happens_on_the_shelf_does_not,
    found_stock_that_was_reversed_is_found_no_more,
);

async fn stamp(shop: &TestShop) -> SetupVersion {
    shop.store.set_up_stamp(shop.shop).await.unwrap()
}

fn rinse() -> JobType {
    JobType {
        id: id("rinse"),
        name: "Rinse".to_owned(),
        price: None,
        stall_cost: None,
        comes_back: None,
    }
}

fn sheet(number: i64) -> SheetRow {
    SheetRow {
        job_type: id("rinse"),
        product: id("soap"),
        amount: ml(number),
        ratio: None,
        share_of_jobs: None,
        log_sd: None,
    }
}

async fn whatever_is_set_up_changes_the_stamp(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let settings = shop.store.shop(shop.shop).await.unwrap().row;
    let mut before = stamp(&shop).await;
    for change in [
        Change::Shop(Box::new(settings)),
        Change::Product(Box::new(soap())),
        Change::JobType(rinse()),
        Change::SheetRow(sheet(10)),
        Change::SheetRow(sheet(20)),
        Change::Service(rinse(), vec![sheet(30)]),
        Change::Service(rinse(), Vec::new()),
    ] {
        shop.done(change.clone()).await;
        let after = stamp(&shop).await;
        assert_ne!(after, before, "{change:?}");
        before = after;
    }
}

async fn what_happens_on_the_shelf_does_not(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let before = stamp(&shop).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 100)])).await;
    assert_eq!(stamp(&shop).await, before);
}

async fn found_stock_that_was_reversed_is_found_no_more(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 1)])).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 1500)])).await;
    let found = async || {
        let (_, ledger) = shop.store.standing(shop.shop, noon(4)).await.unwrap();
        ledger.found_stock().remove(&id("soap")).map_or(Quantity::ZERO, |found| found.surplus)
    };
    assert!(found().await > Quantity::ZERO);
    shop.reverses(EventKind::Pour, "p1").await;
    assert_eq!(found().await, Quantity::ZERO);
}
