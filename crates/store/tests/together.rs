//! Many hands on one shelf lose nothing.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};

use capful_domain::Product;
use capful_domain::facts::Pour;
use capful_store::{Answer, Change, EventKind, MovementFilter, Store, StoreError, WriteContext};
use common::{Fresh, TestShop, container, count, id, noon, pour, receipt, soap};

on_both!(
    eight_hands_pour_one_product,
    two_services_and_a_count,
    products_in_any_order,
    an_edit_of_a_version_is_made_once,
    what_is_named_meanwhile_is_not_reversed,
    what_is_refused_is_nobody_elses_trouble,
);

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

/// Many edit the version that all of them read: one is written, the others are told.
async fn an_edit_of_a_version_is_made_once(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let stores = [Arc::new(fresh.store().await), Arc::new(fresh.store().await)];
    for version in 1..=10 {
        let edits: Vec<_> = (0..HANDS)
            .map(|hand| {
                let asked = WriteContext { if_match: Some(version), ..shop.asked() };
                let store = Arc::clone(&stores[hand % 2]);
                let notes = Some(format!("by hand {hand}"));
                let edit = Change::Product(Box::new(Product { notes, ..soap() }));
                tokio::spawn(async move { store.change_plainly(&asked, &edit).await })
            })
            .collect();
        let mut made = 0;
        for edit in edits {
            match edit.await.unwrap() {
                Ok(outcome) => {
                    assert_eq!(outcome.version, Some(version + 1));
                    made += 1;
                }
                Err(StoreError::Stale { version: now, .. }) => assert_eq!(now, version + 1),
                Err(other) => panic!("{other}"),
            }
        }
        assert_eq!(made, 1, "edits of version {version}");
    }
}

/// A receipt is reversed while another service names the container that it brought: one of the two
/// is refused.
async fn what_is_named_meanwhile_is_not_reversed(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let (one, two) = (fresh.store().await, fresh.store().await);
    for round in 0..12 {
        let (own, named) = (format!("in{round}"), format!("out{round}"));
        shop.done(Change::Receive(vec![receipt(&own, 3, "soap", 1)])).await;
        let brought = Some(container(&format!("{own}/1")));
        let pour = Pour { container: brought, ..pour(&named, noon(4), "soap", 0) };
        let (asked, reverse) = (shop.asked(), EventKind::Receipt);
        let reverse = Change::Reverse { kind: reverse, id: id(&own) };
        let pour = Change::Pour(vec![pour]);
        let (poured, reversed) =
            tokio::join!(one.change_plainly(&asked, &pour), two.change_plainly(&asked, &reverse));
        // A pour of nothing may name what was reversed before it, never the other way round.
        if reversed.is_ok() && poured.is_ok() {
            let of_it = MovementFilter::Containers(vec![container(&format!("{own}/1"))]);
            let movements = shop.store.movements(shop.shop, &of_it).await.unwrap();
            let undone = movements.iter().find(|posted| posted.reverses.is_some()).unwrap();
            assert_eq!(undone.number, 2, "{movements:?}");
        }
    }
    shop.is_sound().await;
}

/// Changes share a commit. One that is refused takes back what it wrote, and no other is done again
/// for its sake.
async fn what_is_refused_is_nobody_elses_trouble(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let store = Arc::new(fresh.store().await);
    let (asked, answers) = (shop.asked(), Arc::new(AtomicUsize::new(0)));
    let hand = |hand: usize| {
        let (asked, store, answers) = (asked.clone(), Arc::clone(&store), Arc::clone(&answers));
        tokio::spawn(async move {
            for number in 0..POURS {
                let own = |word: &str| format!("{word}{hand}-{number}");
                let counted = |_: &_| {
                    answers.fetch_add(1, SeqCst);
                    Answer { status: 200, body: String::new() }
                };
                let good = Change::Pour(vec![pour(&own("p"), noon(3), "soap", 70)]);
                // The second row names what is not there, after the first was looked at.
                let bad =
                    [pour(&own("x"), noon(3), "soap", 70), pour(&own("y"), noon(3), "tar", 1)];
                let bad = Change::Pour(bad.to_vec());
                let (done, refused) = tokio::join!(store.change(&asked, &good, counted), async {
                    store.change_plainly(&asked, &bad).await
                });
                done.unwrap();
                assert!(matches!(refused, Err(StoreError::NotFound { .. })), "{refused:?}");
            }
        })
    };
    for task in (0..HANDS).map(hand).collect::<Vec<_>>() {
        task.await.unwrap();
    }
    assert_eq!(answers.load(SeqCst), HANDS * POURS, "good changes were done more than once");
    let poured = i64::try_from(HANDS * POURS).unwrap() * 70_000;
    assert_eq!(left(&shop, "soap").await, 20_000_000 - poured);
    shop.is_as_replayed().await;
}
