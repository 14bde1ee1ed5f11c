//! Whenever a row is told, and whichever are reversed: the shelf is what its rows come to in the
//! order of time, and a shop that is taken elsewhere as a folder has the same shelf there.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Count, DiscardReason, Method, Pour, Receipt};
use capful_domain::{Container, ExpectedPour, Job, JobStatus, Product, Quantity, Ratio, Source};
use capful_store::{Change, EventKind, MovementFilter, WriteContext};
use chrono::Duration;
use common::{Fresh, TestShop, container, count, discard, id, mix, noon, opening, pour, ratio};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

on_both!(
    the_shelf_is_what_its_rows_come_to,
    a_pour_of_before_the_count_comes_after_it,
    a_pour_that_a_count_has_seen_is_reversed,
    what_found_stock_finds_it_no_more,
    a_product_lasts_longer_than_was_thought,
    what_a_job_was_taken_to_have_used_is_kept,
);

/// One change: its kind, a size, a choice, an hour, and whether a row is reversed after it.
type Draw = (u8, i64, u8, i64, u8);

/// Histories, `CAPFUL_HISTORIES` of them.
fn draws() -> Vec<Vec<Draw>> {
    let histories = std::env::var("CAPFUL_HISTORIES").ok().and_then(|number| number.parse().ok());
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let one = (0..14_u8, 0..1500_i64, any::<u8>(), 0..60_i64, any::<u8>());
    let all = prop::collection::vec(prop::collection::vec(one, 40), histories.unwrap_or(6));
    all.new_tree(&mut runner).unwrap().current()
}

/// The change of a draw at its place in the history, and the kind of row that it writes.
fn change(place: usize, (kind, size, choice, hour, _): Draw) -> (Change, Option<EventKind>) {
    let own = format!("e{place}");
    let at = noon(1) + Duration::hours(hour);
    let product = if choice % 3 == 0 { "wax" } else { "soap" };
    let named = (choice % 5 == 0).then(|| container(&format!("{product}-first/1")));
    let of = |change, kind| (change, Some(kind));
    match kind {
        0 => {
            let containers = u32::from(choice % 3) + 1;
            let receipt = Receipt { at, ..common::receipt(&own, 2, product, containers) };
            of(Change::Receive(vec![receipt]), EventKind::Receipt)
        }
        1 => of(Change::Open(opening(&own, at, product)), EventKind::Opening),
        2 => of(Change::Mix(mix(&own, at, product, size, 4)), EventKind::Mix),
        3 => {
            let discard = capful_domain::facts::Discard {
                reason: (choice % 2 == 0).then_some(DiscardReason::Expired),
                amount: (choice % 4 == 0).then(|| common::ml(size)),
                container: named,
                ..discard(&own, at, product)
            };
            of(Change::Discard(discard), EventKind::Discard)
        }
        4 => of(Change::Count(count(&own, at, product, size)), EventKind::Count),
        5 => {
            let sealed = Some(u32::from(choice % 4));
            let count = Count { sealed, ..count(&own, at, product, size) };
            of(Change::Count(count), EventKind::Count)
        }
        6 => {
            let count = Count { container: named, ..count(&own, at, product, size / 2) };
            of(Change::Count(count), EventKind::Count)
        }
        7 => {
            let cut = Pour { ratio: Some(ratio(4)), ..pour(&own, at, product, size) };
            of(Change::Pour(vec![cut]), EventKind::Pour)
        }
        8 => {
            let days = u32::from(choice);
            let open_days = Some(days).filter(|days| days % 2 == 0);
            let product = Product { id: id(product), open_days, ..common::soap() };
            let shelf_days = Some(days).filter(|days| days % 3 == 0);
            (Change::Product(Box::new(Product { shelf_days, ..product })), None)
        }
        9 => {
            // Told together, the later one first.
            let late = pour(&format!("{own}-late"), at - Duration::hours(2), product, size / 3);
            let pours = vec![pour(&own, at, product, size), late];
            of(Change::Pour(pours), EventKind::Pour)
        }
        _ => {
            let pour = Pour { container: named, ..pour(&own, at, product, size) };
            of(Change::Pour(vec![pour]), EventKind::Pour)
        }
    }
}

/// Containers that were there, as whoever looks at them sees them.
fn shown(mut containers: Vec<Container>) -> Vec<String> {
    containers.sort_by(|a, b| a.id.cmp(&b.id));
    let shown = containers.iter().map(|c| {
        let opened = c.opened.map(|opened| (opened.on, opened.seen));
        let left = c.left.ledger_units();
        format!("{} {left} of {:?} {opened:?} {} {:?}", c.id, c.size, c.discarded, c.sealed_use_by)
    });
    shown.collect()
}

/// The books add up, and the same facts come to the same shelf elsewhere.
async fn is_as_told_in_order(shop: &TestShop, story: &[String]) {
    let checked = shop.store.check(shop.shop).await.unwrap();
    let story = story.join("\n");
    assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]), "{story}");
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let elsewhere = shop.store.new_uuid(noon(20));
    let files = capful_folder::to_files(&facts);
    let facts = capful_folder::read_files(&files).unwrap().facts;
    let import = Change::Import { facts: Box::new(facts), expected: vec![] };
    shop.store.change_plainly(&WriteContext::plainly(elsewhere, noon(20)), &import).await.unwrap();
    let there = shop.store.containers(elsewhere, None, false).await.unwrap();
    let mut here = shop.store.containers(shop.shop, None, false).await.unwrap();
    // Those that no row brings any more are empty, and are not there elsewhere.
    here.retain(|c| there.iter().any(|other| other.id == c.id) || !c.left.is_zero());
    assert_eq!(shown(here), shown(there), "{story}");
}

async fn the_shelf_is_what_its_rows_come_to(fresh: Fresh) {
    let (mut reversed, mut refused) = (0, 0);
    for draws in draws() {
        let shop = TestShop::with_soap(&fresh).await;
        shop.product("wax").await;
        for product in ["soap", "wax"] {
            let own = format!("{product}-first");
            shop.done(Change::Receive(vec![common::receipt(&own, 1, product, 2)])).await;
        }
        let mut standing: Vec<(EventKind, String)> = Vec::new();
        let mut story = Vec::new();
        for (place, draw) in draws.iter().enumerate() {
            let (change, kind) = change(place, *draw);
            story.push(format!("{change:?}"));
            if shop.tries(change).await.is_ok() {
                standing.extend(kind.map(|kind| (kind, format!("e{place}"))));
            }
            is_as_told_in_order(&shop, &story).await;
            if draw.4 % 2 == 0 && !standing.is_empty() {
                let (kind, own) = standing.swap_remove(usize::from(draw.4 / 2) % standing.len());
                story.push(format!("reverses {kind:?} {own}"));
                match shop.tries(Change::Reverse { kind, id: id(&own) }).await {
                    Ok(_) => reversed += 1,
                    Err(why) => {
                        assert!(why.to_string().contains("names a container of it"), "{why}");
                        refused += 1;
                    }
                }
                is_as_told_in_order(&shop, &story).await;
            }
        }
    }
    assert!(reversed > 10 * refused, "{reversed} reversed, {refused} refused");
}

/// 3.3 L are seen at ten; at five past the phone tells of a pour of ten to ten.
async fn a_pour_of_before_the_count_comes_after_it(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![common::receipt("r1", 1, "soap", 4)])).await;
    shop.done(Change::Count(count("c1", noon(3), "soap", 3300))).await;
    let before = noon(3) - Duration::minutes(10);
    let outcome = shop.done(Change::Pour(vec![pour("p1", before, "soap", 500)])).await;
    let shelf = ["r1/1 open 300", "r1/2 sealed 1000", "r1/3 sealed 1000", "r1/4 sealed 1000"];
    assert_eq!(shop.shelf("soap").await, shelf);
    assert_eq!(outcome.containers.iter().filter(|c| c.id.as_str() == "r1/1").count(), 1);
    let own = MovementFilter::Source(Source::Pour(id("p1")));
    let own = shop.store.movements(shop.shop, &own).await.unwrap();
    let sum: Quantity = own.iter().map(|posted| posted.movement.change).sum();
    assert_eq!(sum, Quantity::ZERO, "the count has seen it");
    is_as_told_in_order(&shop, &[]).await;
    // What is told in time costs nothing more.
    let outcome = shop.done(Change::Pour(vec![pour("p2", noon(4), "soap", 50)])).await;
    assert_eq!(outcome.movements.len(), 1);
}

async fn a_pour_that_a_count_has_seen_is_reversed(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![common::receipt("r1", 1, "soap", 5)])).await;
    shop.done(Change::Pour(vec![pour("p1", noon(2), "soap", 1000)])).await;
    shop.done(Change::Count(count("c1", noon(3), "soap", 3300))).await;
    shop.reverses(EventKind::Pour, "p1").await;
    let left: i64 = left_of(&shop, "soap").await;
    assert_eq!(left, 3300, "the count stands");
    is_as_told_in_order(&shop, &[]).await;
    // Two counts, of which the first was a slip.
    shop.product("can").await;
    shop.done(Change::Receive(vec![common::receipt("r2", 1, "can", 15)])).await;
    shop.done(Change::Count(count("c2", noon(3), "can", 0))).await;
    shop.done(Change::Count(count("c3", noon(4), "can", 14_000))).await;
    shop.reverses(EventKind::Count, "c2").await;
    assert_eq!(left_of(&shop, "can").await, 14_000);
    is_as_told_in_order(&shop, &[]).await;
}

async fn left_of(shop: &TestShop, product: &str) -> i64 {
    let all = shop.store.containers(shop.shop, Some(&id(product)), false).await.unwrap();
    all.iter().map(|c| c.left.ledger_units()).sum::<i64>() / 1000
}

/// An opening found a bottle that the receipt, told late, had brought; a name that nobody brings
/// any more is given again when somebody does.
async fn what_found_stock_finds_it_no_more(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Open(opening("o1", noon(4), "soap"))).await;
    assert_eq!(shop.shelf("soap").await, ["o1/1 open 1000"]);
    shop.done(Change::Receive(vec![common::receipt("r1", 3, "soap", 1)])).await;
    assert_eq!(shop.shelf("soap").await, ["o1/1 empty 0", "r1/1 open 1000"]);
    is_as_told_in_order(&shop, &[]).await;
    let gone = Pour { container: Some(container("o1/1")), ..pour("p1", noon(5), "soap", 1) };
    assert!(shop.refused(Change::Pour(vec![gone])).await.contains("no container `o1/1`"));
    shop.reverses(EventKind::Receipt, "r1").await;
    assert_eq!(shop.shelf("soap").await, ["o1/1 open 1000", "r1/1 empty 0"]);
    is_as_told_in_order(&shop, &[]).await;
    let named = Pour { container: Some(container("o1/1")), ..pour("p2", noon(5), "soap", 1) };
    shop.done(Change::Pour(vec![named])).await;
    // Told now, the receipt makes the opening one of its own bottle; the pour finds it there.
    shop.done(Change::Receive(vec![common::receipt("r2", 3, "soap", 1)])).await;
    assert_eq!(left_of(&shop, "soap").await, 999);
    is_as_told_in_order(&shop, &[]).await;
}

async fn a_product_lasts_longer_than_was_thought(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let best_before = Some(common::march(9));
    let lasts = Receipt { best_before, ..common::receipt("r1", 1, "soap", 1) };
    shop.done(Change::Receive(vec![lasts])).await;
    shop.done(Change::Receive(vec![common::receipt("r2", 2, "soap", 1)])).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 100)])).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900", "r2/1 sealed 1000"]);
    let product = Product { shelf_days: Some(4), ..common::soap() };
    shop.done(Change::Product(Box::new(product))).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000", "r2/1 open 900"]);
    is_as_told_in_order(&shop, &[]).await;
}

/// A job of a history that was deducted without a row is deducted still when something is told
/// late, until its own pour is told.
async fn what_a_job_was_taken_to_have_used_is_kept(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![common::receipt("r1", 1, "soap", 2)])).await;
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    let at = noon(5);
    let done = Job { status: JobStatus::Done, finished_at: Some(at), ..common::job("j1", 5) };
    facts.jobs.push(done);
    let quantity = Quantity::from_ledger_units(200_000);
    let (job, product) = (id("j1"), id("soap"));
    let expected = vec![ExpectedPour { at, job, product, quantity, ratio: Ratio::NEAT }];
    shop.done(Change::Import { facts: Box::new(facts), expected }).await;
    assert_eq!(left_of(&shop, "soap").await, 1800);
    shop.done(Change::Pour(vec![pour("p1", noon(4), "soap", 1000)])).await;
    assert_eq!(left_of(&shop, "soap").await, 800);
    shop.is_as_replayed().await;
    let measured = Pour { job: Some(id("j1")), ..pour("p2", noon(5), "soap", 300) };
    shop.done(Change::Pour(vec![measured])).await;
    assert_eq!(left_of(&shop, "soap").await, 700);
    is_as_told_in_order(&shop, &[]).await;
    let guessed = Pour { method: Some(Method::Expected), ..pour("p3", noon(2), "soap", 10) };
    shop.done(Change::Pour(vec![guessed])).await;
    is_as_told_in_order(&shop, &[]).await;
}
