//! Whatever is done, the books add up; and while nothing is reversed, they are what the rows come
//! to when they are posted again.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Count, DiscardReason, Pour};
use capful_store::{Change, EventKind};
use chrono::Duration;
use common::{Fresh, TestShop, container, count, discard, id, mix, noon, opening, pour, ratio};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, TestRunner};

on_both!(the_books_add_up);

const HISTORIES: usize = 6;
const CHANGES: usize = 40;

/// One change: its kind, a size, and a choice.
type Draw = (u8, i64, u8);

fn draws() -> Vec<Vec<Draw>> {
    let mut runner = TestRunner::new_with_rng(
        Config::default(),
        proptest::test_runner::TestRng::deterministic_rng(
            proptest::test_runner::RngAlgorithm::ChaCha,
        ),
    );
    let one = (0..12_u8, 0..1500_i64, any::<u8>());
    let all = prop::collection::vec(prop::collection::vec(one, CHANGES), HISTORIES);
    all.new_tree(&mut runner).unwrap().current()
}

/// The change of a draw, at its place in the history.
fn change(place: usize, (kind, size, choice): Draw) -> Change {
    let own = format!("e{place}");
    let at = noon(1) + Duration::hours(i64::try_from(place).unwrap());
    let product = if choice % 3 == 0 { "wax" } else { "soap" };
    let named = (choice % 5 == 0).then(|| container(&format!("{product}-first/1")));
    match kind {
        0 => Change::Receive(vec![capful_domain::facts::Receipt {
            at,
            ..common::receipt(&own, 2, product, u32::from(choice % 3) + 1)
        }]),
        1 => Change::Open(opening(&own, at, product)),
        2 => Change::Mix(mix(&own, at, product, size, 4)),
        3 => Change::Discard(capful_domain::facts::Discard {
            reason: (choice % 2 == 0).then_some(DiscardReason::Expired),
            amount: (choice % 4 == 0).then(|| common::ml(size)),
            container: named,
            ..discard(&own, at, product)
        }),
        4 => Change::Count(count(&own, at, product, size)),
        5 => Change::Count(Count {
            sealed: Some(u32::from(choice % 4)),
            container: None,
            ..count(&own, at, product, size)
        }),
        6 => Change::Count(Count { container: named, ..count(&own, at, product, size / 2) }),
        7 => Change::Pour(vec![Pour { ratio: Some(ratio(4)), ..pour(&own, at, product, size) }]),
        _ => Change::Pour(vec![Pour { container: named, ..pour(&own, at, product, size) }]),
    }
}

async fn the_books_add_up(fresh: Fresh) {
    for (number, draws) in draws().into_iter().enumerate() {
        let shop = TestShop::with_soap(&fresh).await;
        shop.product("wax").await;
        for product in ["soap", "wax"] {
            let own = format!("{product}-first");
            shop.done(Change::Receive(vec![common::receipt(&own, 1, product, 2)])).await;
        }
        let mut deeds = Vec::with_capacity(draws.len());
        for (place, draw) in draws.iter().enumerate() {
            deeds.push(shop.done(change(place, *draw)).await.deed);
            shop.is_as_replayed().await;
        }
        for place in (0..draws.len()).rev().step_by(number % 3 + 1) {
            let kind = match draws[place].0 {
                0 => EventKind::Receipt,
                1 => EventKind::Opening,
                2 => EventKind::Mix,
                3 => EventKind::Discard,
                4..=6 => EventKind::Count,
                _ => EventKind::Pour,
            };
            // Some cannot be: something was taken since. Then nothing is changed.
            let reverse = match place % 2 {
                0 => Change::Reverse { kind, id: id(&format!("e{place}")) },
                _ => Change::Undo { deed: deeds[place] },
            };
            if shop.tries(reverse.clone()).await.is_err() {
                shop.refused(reverse).await;
            }
            shop.is_sound().await;
        }
    }
}
