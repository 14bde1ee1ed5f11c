//! What happens on the shelf, one change at a time.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Count, Method, OrderStatus, Pour, Receipt};
use capful_domain::{ExpectedPour, Job, JobStatus, OrderBook, Quantity, Ratio, Snapshot};
use capful_store::{Change, EventKind, Finish, MovementFilter};
use common::{
    Fresh, TestShop, container, count, discard, id, job, mix, noon, opening, order, pour, ratio,
    receipt, soap,
};
use rust_decimal::Decimal;

on_both!(
    more_is_poured_than_the_books_hold,
    a_mistake_is_reversed_and_the_books_as_of_before_keep_it,
    a_receipt_stands_while_something_names_what_it_brought,
    a_job_is_finished_measured_and_as_expected,
    counted_weighed_opened_mixed_and_thrown_away,
    half_an_order_comes,
    a_used_up_bottle_is_found_again,
    what_was_set_up_has_versions,
    moments_are_kept_to_the_microsecond,
    names_of_containers_are_each_given_once,
    what_came_in_keeps_its_size,
    a_job_and_a_receipt_may_bear_one_id,
    a_mix_stands_while_something_names_it,
    movements_are_read_page_by_page,
);

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop
}

async fn more_is_poured_than_the_books_hold(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let outcome = shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 2500)])).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 empty 0", "r1/2 empty 0"]);
    let found: Quantity = outcome
        .movements
        .iter()
        .filter(|m| m.kind == capful_domain::MovementKind::Counted)
        .map(|m| m.change)
        .sum();
    assert_eq!(found.ledger_units(), 500_000);
    shop.is_as_replayed().await;
    shop.reverses(EventKind::Pour, "p1").await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000", "r1/2 sealed 1000"]);
    shop.is_as_replayed().await;
}

async fn a_mistake_is_reversed_and_the_books_as_of_before_keep_it(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 300)])).await;
    shop.done(Change::Pour(vec![pour("p2", noon(4), "soap", 50)])).await;
    let outcome = shop.reverses(EventKind::Pour, "p1").await;
    assert!(outcome.movements.iter().all(|m| m.at == noon(20)));
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 950", "r1/2 sealed 1000"]);
    shop.is_as_replayed().await;
    let pours = async |as_of| {
        let facts = shop.store.facts(shop.shop, as_of).await.unwrap();
        facts.pours.iter().map(|pour| pour.id.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(pours(None).await, ["p2"]);
    assert_eq!(pours(Some(noon(20))).await, ["p2"]);
    assert_eq!(pours(Some(noon(19))).await, ["p1", "p2"]);
    let again = shop.refused(Change::Reverse { kind: EventKind::Pour, id: id("p1") }).await;
    assert_eq!(again, "pour p1 was reversed before: nothing is left of it");
    let none = shop.refused(Change::Reverse { kind: EventKind::Mix, id: id("p1") }).await;
    assert_eq!(none, "there is no mix `p1`");
    let all = shop.store.movements(shop.shop, &MovementFilter::All).await.unwrap();
    let undone = all.iter().filter(|posted| posted.reverses.is_some()).count();
    assert_eq!(undone, outcome.movements.len());
}

async fn a_receipt_stands_while_something_names_what_it_brought(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let reverse = || Change::Reverse { kind: EventKind::Receipt, id: id("r1") };
    let named = Pour { container: Some(container("r1/1")), ..pour("p1", noon(3), "soap", 0) };
    shop.done(Change::Pour(vec![named])).await;
    let refused = shop.refused(reverse()).await;
    assert_eq!(refused, "pour p1 names a container of it: reverse that first");
    shop.reverses(EventKind::Pour, "p1").await;
    shop.done(Change::Pour(vec![pour("p2", noon(4), "soap", 10)])).await;
    shop.done(reverse()).await;
    // What was poured was there: the pour found it.
    assert_eq!(shop.shelf("soap").await, ["r1/1 empty 0", "r1/2 empty 0", "p2/1 empty 0"]);
    shop.is_as_replayed().await;
}

async fn a_job_is_finished_measured_and_as_expected(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.product("glass").await;
    shop.product("wax").await;
    shop.done(Change::Book(job("j1", 5))).await;
    shop.done(Change::StartJob { job: id("j1"), at: noon(5) }).await;
    let expected = |product: &str, units, ratio| ExpectedPour {
        at: noon(5),
        job: id("j1"),
        product: id(product),
        quantity: Quantity::from_ledger_units(units),
        ratio,
    };
    let rest = [
        expected("soap", 77_777, Ratio::NEAT),
        expected("glass", 33_333, ratio(7)),
        expected("wax", 0, Ratio::NEAT),
    ];
    let finish = Finish {
        job: shop.store.get::<Job>(shop.shop, "j1").await.unwrap(),
        at: noon(6),
        pours: vec![pour("p1", noon(6), "soap", 120)],
        expected: rest.to_vec(),
    };
    let outcome = shop.done(Change::FinishJob(finish.clone())).await;
    assert_eq!(outcome.version, Some(3));
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    assert_eq!(facts.jobs[0].status, JobStatus::Done);
    assert_eq!(facts.jobs[0].finished_at, Some(noon(6)));
    let pours: Vec<_> = facts.pours.iter().map(|p| (p.product.as_str(), p.method)).collect();
    let guessed = Some(Method::Expected);
    assert_eq!(pours, [("soap", None), ("glass", guessed), ("wax", guessed)]);
    let poured = facts.pours[1].ratio.unwrap().product_in(
        capful_domain::Quantity::from_unit(facts.pours[1].amount.number, capful_domain::Unit::Ml)
            .unwrap(),
    );
    assert_eq!(poured.ledger_units(), 33_333);
    let files = capful_folder::to_files(&facts);
    assert_eq!(capful_folder::read_files(&files).unwrap().facts, facts, "as a folder");
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 880", "r1/2 sealed 1000"]);
    shop.is_as_replayed().await;
    let again = shop.refused(Change::FinishJob(finish.clone())).await;
    assert!(again.contains("not as it was read"), "{again}");
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let again = shop.refused(Change::FinishJob(Finish { job, ..finish })).await;
    assert_eq!(again, "job j1 is done: one that is booked or started can be finished");
    let cancel = Change::CancelJob { job: id("j1"), at: noon(7) };
    assert!(shop.refused(cancel).await.contains("can be cancelled"));
}

async fn counted_weighed_opened_mixed_and_thrown_away(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Open(opening("o1", noon(3), "soap"))).await;
    shop.done(Change::Mix(mix("m1", noon(3), "soap", 1100, 10))).await;
    let from_mix = Pour { ratio: Some(ratio(10)), ..pour("p1", noon(4), "soap", 550) };
    shop.done(Change::Pour(vec![from_mix])).await;
    let shelf = shop.shelf("soap").await;
    assert_eq!(shelf, ["r1/1 open 900", "r1/2 sealed 1000", "m1 open 50"]);
    let weighed = Count {
        amount: None,
        gross_g: Some(Decimal::from(700)),
        container: Some(container("r1/1")),
        ..count("c1", noon(5), "soap", 0)
    };
    shop.done(Change::Count(weighed)).await;
    let gone = capful_domain::facts::Discard {
        container: Some(container("m1")),
        ..discard("d1", noon(6), "soap")
    };
    shop.done(Change::Discard(gone)).await;
    let shelf = shop.shelf("soap").await;
    assert_eq!(shelf, ["r1/1 open 700", "r1/2 sealed 1000", "m1 discarded 0"]);
    shop.is_as_replayed().await;
    for (kind, own) in
        [(EventKind::Discard, "d1"), (EventKind::Count, "c1"), (EventKind::Pour, "p1")]
    {
        shop.reverses(kind, own).await;
        shop.is_sound().await;
    }
    shop.reverses(EventKind::Mix, "m1").await;
    shop.reverses(EventKind::Opening, "o1").await;
    let shelf = shop.shelf("soap").await;
    assert_eq!(shelf, ["r1/1 sealed 1000", "r1/2 sealed 1000", "m1 empty 0"]);
    shop.is_sound().await;
}

async fn half_an_order_comes(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(order("b1", 2, "soap", 4)).await;
    let half = Receipt {
        order: Some(id("b1")),
        supplier: Some(id("dock")),
        ..receipt("r1", 6, "soap", 2)
    };
    let early = Receipt { at: noon(1), ..half.clone() };
    assert!(shop.refused(Change::Receive(vec![early])).await.contains("not before it was ordered"));
    shop.done(Change::Receive(vec![half.clone()])).await;
    let waiting = async || {
        let facts = shop.store.facts(shop.shop, None).await.unwrap();
        OrderBook::of(&facts).outstanding.iter().map(|line| line.containers).sum::<u32>()
    };
    assert_eq!(waiting().await, 2);
    let rest = Receipt { id: id("r2"), ..half.clone() };
    shop.done(Change::Receive(vec![rest])).await;
    assert_eq!(waiting().await, 0);
    shop.done(Change::SetOrder { order: id("b1"), status: OrderStatus::Cancelled }).await;
    let late = Receipt { id: id("r3"), ..half };
    assert!(shop.refused(Change::Receive(vec![late])).await.contains("is cancelled"));
    let twice = shop.refused(order("b1", 2, "soap", 1)).await;
    assert_eq!(twice, "order `b1` is there already: a new one needs an id of its own");
}

/// The books need the used-up containers too, to know which of them was not used up after all.
async fn a_used_up_bottle_is_found_again(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 2000)])).await;
    shop.done(Change::Pour(vec![pour("p2", noon(4), "soap", 10)])).await;
    shop.done(Change::Count(count("c1", noon(5), "soap", 400))).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 empty 0", "r1/2 open 400"]);
    shop.is_as_replayed().await;
}

async fn what_was_set_up_has_versions(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let put = |if_match| capful_store::WriteContext { if_match, ..shop.asked() };
    let change = Change::Product(Box::new(capful_domain::Product {
        notes: Some("keep from frost".to_owned()),
        ..soap()
    }));
    let outcome = shop.store.change_plainly(&put(Some(1)), &change).await.unwrap();
    assert_eq!((outcome.version, outcome.is_new), (Some(2), false));
    let stale = shop.store.change_plainly(&put(Some(1)), &change).await.unwrap_err();
    assert!(stale.to_string().contains("it is at version 2 now"), "{stale}");
    let listed = shop.store.get::<capful_domain::Product>(shop.shop, "soap").await.unwrap();
    assert_eq!(listed.place.version, 2);
    assert_eq!(listed.row.notes.as_deref(), Some("keep from frost"));
    let grams = capful_domain::Amount { number: Decimal::ONE, unit: capful_domain::Unit::Kg };
    let other = capful_domain::Product::new(id("soap"), "Soap", grams);
    let refused = shop.refused(Change::Product(Box::new(other))).await;
    assert!(refused.starts_with("unit: one of mL, L,"), "{refused}");
}

/// A receipt and a count of one id, of different products: each container has a name of its own,
/// and rows find it by the name that it should bear.
async fn names_of_containers_are_each_given_once(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.product("wax").await;
    shop.done(Change::Receive(vec![receipt("x", 2, "soap", 1)])).await;
    shop.done(Change::Count(count("x", noon(3), "wax", 500))).await;
    assert_eq!(shop.shelf("soap").await, ["x/1 sealed 1000"]);
    assert_eq!(shop.shelf("wax").await, ["x/2 open 500"]);
    let named = Pour { container: Some(container("x/1")), ..pour("p1", noon(4), "wax", 100) };
    shop.done(Change::Pour(vec![named])).await;
    assert_eq!(shop.shelf("wax").await, ["x/2 open 400"]);
    shop.is_as_replayed().await;
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    assert_eq!(Snapshot::of(&facts, noon(20)).facts.counts.len(), 1);
}

async fn moments_are_kept_to_the_microsecond(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let at = noon(3) + chrono::Duration::nanoseconds(123_456_789);
    shop.done(Change::Pour(vec![pour("p1", at, "soap", 10)])).await;
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    assert_eq!(facts.pours[0].at, noon(3) + chrono::Duration::microseconds(123_456));
    let movements = shop.store.movements(shop.shop, &MovementFilter::All).await.unwrap();
    assert_eq!(movements.last().unwrap().movement.at, facts.pours[0].at);
    shop.is_as_replayed().await;
}

/// What is bought in another size from now on came in the old one until now.
async fn what_came_in_keeps_its_size(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let other = Receipt { container_size: Some(Decimal::from(300)), ..receipt("r2", 3, "soap", 1) };
    shop.done(Change::Receive(vec![other])).await;
    let small = capful_domain::Product { container_size: common::ml(500), ..soap() };
    shop.done(Change::Product(Box::new(small))).await;
    shop.done(Change::Receive(vec![receipt("r3", 4, "soap", 1)])).await;
    let sizes = ["r1/1 sealed 1000", "r1/2 sealed 1000", "r2/1 sealed 300", "r3/1 sealed 500"];
    assert_eq!(shop.shelf("soap").await, sizes);
    shop.is_as_replayed().await;
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let said: Vec<_> = facts.receipts.iter().map(|receipt| receipt.container_size).collect();
    assert_eq!(said, [Some(Decimal::from(1000)), Some(Decimal::from(300)), None]);
    shop.reverses(EventKind::Receipt, "r1").await;
    shop.is_as_replayed().await;
    let litres = capful_domain::Amount { number: Decimal::ONE, unit: capful_domain::Unit::L };
    let in_litres = capful_domain::Product::new(id("soap"), "Soap", litres);
    shop.product("wax").await;
    let not_come_yet = capful_domain::Product { id: id("wax"), ..in_litres };
    shop.done(Change::Product(Box::new(not_come_yet))).await;
}

/// What a job is taken to have used is found where there is none, in a container named after the
/// job; a receipt's container bears that name already.
async fn a_job_and_a_receipt_may_bear_one_id(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.product("wax").await;
    shop.done(Change::Receive(vec![receipt("17", 2, "wax", 1)])).await;
    shop.done(Change::Book(job("17", 5))).await;
    let soap = ExpectedPour {
        at: noon(5),
        job: id("17"),
        product: id("soap"),
        quantity: Quantity::from_ledger_units(50_000),
        ratio: Ratio::NEAT,
    };
    let job = shop.store.get::<Job>(shop.shop, "17").await.unwrap();
    let finish = Finish { job, at: noon(5), pours: vec![], expected: vec![soap] };
    shop.done(Change::FinishJob(finish)).await;
    assert_eq!(shop.shelf("soap").await, ["17/2 empty 0"]);
    assert_eq!(shop.shelf("wax").await, ["17/1 sealed 1000"]);
    shop.is_as_replayed().await;
}

/// Its concentrate is of another row's lot; what it brought is the mix.
async fn a_mix_stands_while_something_names_it(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Mix(mix("m1", noon(3), "soap", 1100, 10))).await;
    let of_mix = Pour { container: Some(container("m1")), ..pour("p1", noon(4), "soap", 0) };
    shop.done(Change::Pour(vec![of_mix])).await;
    let refused = shop.refused(Change::Reverse { kind: EventKind::Mix, id: id("m1") }).await;
    assert_eq!(refused, "pour p1 names a container of it: reverse that first");
    shop.reverses(EventKind::Pour, "p1").await;
    shop.reverses(EventKind::Mix, "m1").await;
    assert_eq!(shop.shelf("soap").await[2], "m1 empty 0");
    shop.is_as_replayed().await;
}

async fn movements_are_read_page_by_page(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.product("wax").await;
    shop.done(Change::Receive(vec![receipt("r2", 2, "wax", 3)])).await;
    for number in 0..5 {
        shop.done(Change::Pour(vec![pour(&format!("p{number}"), noon(3), "soap", 10)])).await;
    }
    for filter in [MovementFilter::All, MovementFilter::Product(id("soap"))] {
        let whole = shop.store.movements(shop.shop, &filter).await.unwrap();
        let mut pages: Vec<capful_store::Posted> = Vec::new();
        loop {
            let after = pages.last().map(|last| last.id);
            let page = shop.store.movements_page(shop.shop, &filter, after, 3).await.unwrap();
            assert!(page.len() <= 3);
            if page.is_empty() {
                break;
            }
            pages.extend(page);
        }
        assert_eq!(pages, whole);
    }
}
