//! Many hands on one shelf lose nothing.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;

use capful_store::{Change, Store};
use common::{Fresh, TestShop, count, noon, pour, receipt};

on_both!(eight_hands_pour_one_product, two_services_and_a_count, products_in_any_order);

const HANDS: usize = 8;
const POURS: usize = 12;

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.product("wax").await;
    let receipts = vec![receipt("r1", 2, "soap", 20), receipt("r2", 2, "wax", 20)];
    shop.done(Change::Receive(receipts)).await;
    shop
}

async fn left(shop: &TestShop, product: &str) -> i64 {
    let product = common::id(product);
    let all = shop.store.containers(shop.shop, Some(&product), false).await.unwrap();
    all.iter().map(|container| container.left.ledger_units()).sum()
}

/// Runs `HANDS` tasks that each make `POURS` changes, on one of the stores by turns.
async fn all_hands(
    shop: &TestShop,
    stores: Vec<Arc<Store>>,
    change: impl Fn(usize, usize) -> Change + Copy + Send + 'static,
) {
    let asked = shop.asked();
    let tasks: Vec<_> = (0..HANDS)
        .map(|hand| {
            let (asked, store) = (asked.clone(), Arc::clone(&stores[hand % stores.len()]));
            tokio::spawn(async move {
                for number in 0..POURS {
                    store.change_plainly(&asked, &change(hand, number)).await.unwrap();
                }
            })
        })
        .collect();
    for task in tasks {
        task.await.unwrap();
    }
}

async fn eight_hands_pour_one_product(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let store = Arc::new(fresh.store().await);
    all_hands(&shop, vec![store], |hand, number| {
        Change::Pour(vec![pour(&format!("p{hand}-{number}"), noon(3), "soap", 70)])
    })
    .await;
    let poured = i64::try_from(HANDS * POURS).unwrap() * 70_000;
    assert_eq!(left(&shop, "soap").await, 20_000_000 - poured);
    shop.is_as_replayed().await;
}

async fn two_services_and_a_count(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let stores = vec![Arc::new(fresh.store().await), Arc::new(fresh.store().await)];
    all_hands(&shop, stores, |hand, number| {
        let own = format!("p{hand}-{number}");
        match (hand, number % 4) {
            (0, 0) => Change::Count(count(&own, noon(3), "soap", 15_000)),
            (1, 0) => Change::Receive(vec![receipt(&own, 3, "soap", 1)]),
            _ => Change::Pour(vec![pour(&own, noon(3), "soap", 300)]),
        }
    })
    .await;
    shop.is_sound().await;
}

/// Two that need the same two products, each in its own order, do not wait for each other for ever.
async fn products_in_any_order(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let stores = vec![Arc::new(fresh.store().await), Arc::new(fresh.store().await)];
    all_hands(&shop, stores, |hand, number| {
        let own = |word: &str| format!("{word}{hand}-{number}");
        let mut pours =
            vec![pour(&own("a"), noon(3), "soap", 10), pour(&own("b"), noon(3), "wax", 10)];
        if hand % 2 == 1 {
            pours.reverse();
        }
        Change::Pour(pours)
    })
    .await;
    let poured = i64::try_from(HANDS * POURS).unwrap() * 10_000;
    assert_eq!(left(&shop, "soap").await, 20_000_000 - poured);
    assert_eq!(left(&shop, "wax").await, 20_000_000 - poured);
    shop.is_as_replayed().await;
}
