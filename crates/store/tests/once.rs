//! The same request twice changes nothing the second time, and is answered the same.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;

use capful_store::{Answer, Answered, Change, Effects, StoreError};
use chrono::Duration;
use common::{Fresh, TestShop, noon, pour, receipt};

on_both!(
    the_same_key_twice_is_done_once,
    a_key_is_of_one_request,
    what_was_refused_may_be_asked_again,
    one_of_many_at_the_same_time_is_done,
    two_services_do_it_once,
    answers_are_forgotten_after_their_day,
);

fn answer(outcome: &Effects) -> Answer {
    Answer { status: 201, body: outcome.written.join(" ") }
}

fn a_pour(own: &str) -> Change {
    Change::Pour(vec![pour(own, noon(3), "soap", 100)])
}

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop
}

async fn the_same_key_twice_is_done_once(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let asked = shop.asked().once("k1", "POST /pours one");
    let first = shop.store.change(&asked, &a_pour("p1"), answer).await.unwrap();
    assert!(matches!(&first, Answered::Fresh(outcome, _) if outcome.movements.len() == 2));
    let again = shop.store.change(&asked, &a_pour("p1"), answer).await.unwrap();
    assert_eq!(again, Answered::Replayed(Answer { status: 201, body: "p1".to_owned() }));
    assert_eq!(again.answer(), first.answer());
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900", "r1/2 sealed 1000"]);
}

async fn a_key_is_of_one_request(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let asked = shop.asked().once("k1", "POST /pours one");
    shop.store.change(&asked, &a_pour("p1"), answer).await.unwrap();
    let other = shop.asked().once("k1", "POST /pours other");
    let refused = shop.store.change(&other, &a_pour("p2"), answer).await.unwrap_err();
    assert!(matches!(refused, StoreError::SameKeyOtherBody));
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900", "r1/2 sealed 1000"]);

    // Keys are of one shop: another's are its own.
    let neighbour = TestShop { shop: shop.store.new_uuid(noon(1)), store: shop.store };
    let asked = neighbour.asked().once("k1", "other");
    let missing = neighbour.store.change(&asked, &a_pour("p1"), answer).await.unwrap_err();
    assert!(matches!(missing, StoreError::NotFound { what: "shop", .. }));
}

async fn what_was_refused_may_be_asked_again(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let asked = shop.asked().once("k1", "one");
    let unknown = Change::Pour(vec![pour("p1", noon(3), "wax", 100)]);
    let refused = shop.store.change(&asked, &unknown, answer).await.unwrap_err();
    assert_eq!(refused.to_string(), "there is no product `wax`");
    shop.product("wax").await;
    let done = shop.store.change(&asked, &unknown, answer).await.unwrap();
    assert!(done.now().is_some());
}

async fn one_of_many_at_the_same_time_is_done(fresh: Fresh) {
    let shop = Arc::new(stocked(&fresh).await);
    let tasks = (0..8).map(|_| {
        let shop = Arc::clone(&shop);
        tokio::spawn(async move {
            let asked = shop.asked().once("k1", "one");
            shop.store.change(&asked, &a_pour("p1"), answer).await
        })
    });
    let mut done = 0;
    for task in tasks.collect::<Vec<_>>() {
        match task.await.unwrap() {
            Ok(Answered::Fresh(..)) => done += 1,
            Ok(Answered::Replayed(before)) => assert_eq!(before.body, "p1"),
            Err(StoreError::StillRunning) => {}
            Err(other) => panic!("{other}"),
        }
    }
    assert_eq!(done, 1);
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900", "r1/2 sealed 1000"]);
}

async fn two_services_do_it_once(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let others = [fresh.store().await, fresh.store().await];
    for round in 0..10 {
        let asked = shop.asked().once(&format!("k{round}"), "one");
        let change = a_pour(&format!("p{round}"));
        let [one, two] = &others;
        let (one, two) =
            tokio::join!(one.change(&asked, &change, answer), two.change(&asked, &change, answer));
        let now = |done: &Answered<Effects>| usize::from(matches!(done, Answered::Fresh(..)));
        assert_eq!(now(&one.unwrap()) + now(&two.unwrap()), 1, "round {round}");
    }
    assert_eq!(shop.shelf("soap").await, ["r1/1 empty 0", "r1/2 sealed 1000"]);
}

async fn answers_are_forgotten_after_their_day(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let asked = shop.asked().once("k1", "one");
    shop.store.change(&asked, &a_pour("p1"), answer).await.unwrap();
    let day = Duration::days(1);
    assert_eq!(shop.store.forget_answers(asked.now - day).await.unwrap(), 0);
    assert_eq!(shop.store.forget_answers(asked.now + day).await.unwrap(), 1);
    let again = shop.store.change(&asked, &a_pour("p1"), answer).await.unwrap_err();
    assert!(matches!(&again, StoreError::Conflict { what: "pour", id } if id == "p1"));
}
