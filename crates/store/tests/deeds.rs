//! Who did what: each change is told of once, with who asked for it, or not at all.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::HashSet;

use capful_domain::facts::{OrderStatus, Pour};
use capful_domain::{Job, NamedRatio, Snapshot};
use capful_store::{
    Answer, Answered, AuditAction, AuditEntry, By, Change, Effects, EventKind, Finish, StoreError,
    WriteContext,
};
use common::{Fresh, TestShop, count, discard, id, job, mix, noon, opening, order, pour, receipt};
use uuid::Uuid;

on_both!(
    every_change_is_told_of,
    it_is_told_who_did_it,
    what_failed_is_not_told_of,
    the_same_request_again_is_not_told_of,
    an_answer_knows_its_deed,
    deeds_are_read_page_by_page,
    the_deeds_of_a_shop_are_its_own,
);

async fn deeds(shop: &TestShop) -> Vec<AuditEntry> {
    shop.store.deeds(shop.shop, None, 100).await.unwrap()
}

/// What was done last: its word, and what it was done to.
async fn last(shop: &TestShop) -> String {
    let deed = deeds(shop).await.remove(0);
    format!("{} {}", deed.what.word(), deed.of)
}

async fn every_change_is_told_of(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let set_up = deeds(&shop).await;
    let set_up: Vec<String> =
        set_up.iter().map(|deed| format!("{} {}", deed.what.word(), deed.of)).collect();
    assert_eq!(set_up, ["job-type wash", "supplier dock", "product soap", "shop "]);
    let ratio =
        NamedRatio { product: id("soap"), label: "light".to_owned(), ratio: common::ratio(9) };
    shop.product("wax").await;
    let pours = vec![pour("p1", noon(4), "wax", 1), pour("p2", noon(4), "soap", 1)];
    let booked = job("j2", 6);
    for (change, told) in [
        (Change::Ratio(ratio), "product soap"),
        (Change::Receive(vec![receipt("r1", 3, "soap", 2)]), "received soap"),
        (Change::Pour(pours), "poured soap, wax"),
        (Change::Open(opening("o1", noon(4), "soap")), "opened soap"),
        (Change::Mix(mix("m1", noon(4), "soap", 100, 4)), "mixed soap"),
        (Change::Discard(discard("d1", noon(4), "soap")), "discarded soap"),
        (Change::Count(count("c1", noon(4), "soap", 700)), "counted soap"),
        (order("b1", 4, "soap", 1), "order-placed b1"),
        (Change::SetOrder { order: id("b1"), status: OrderStatus::Received }, "order-changed b1"),
        (Change::Book(job("j1", 5)), "job-booked j1"),
        (Change::Book(booked.clone()), "job-booked j2"),
        (Change::ChangeJob(Job { vehicle: None, ..booked }), "job-changed j2"),
        (Change::StartJob { job: id("j2"), at: noon(6) }, "job-started j2"),
        (Change::CancelJob { job: id("j2"), at: noon(6) }, "job-cancelled j2"),
        (Change::Reverse { kind: EventKind::Pour, id: id("p1") }, "reversed p1"),
    ] {
        let outcome = shop.done(change).await;
        assert_eq!(last(&shop).await, told);
        assert_eq!(deeds(&shop).await[0].id, outcome.deed);
    }
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let finish = Finish { job, at: noon(7), pours: vec![], expected: vec![] };
    let finished = shop.done(Change::FinishJob(finish)).await;
    assert_eq!(last(&shop).await, "job-finished j1");
    shop.done(Change::Undo { deed: finished.deed }).await;
    assert_eq!(last(&shop).await, format!("undone {}", finished.deed));
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let expected = capful_forecast::expected_pours(&Snapshot::of(&facts, noon(20)));
    shop.done(Change::Import { facts: Box::new(facts), expected }).await;
    assert_eq!(last(&shop).await, "imported ");

    let words: HashSet<&str> = AuditAction::ALL.iter().map(|what| what.word()).collect();
    assert_eq!(words.len(), AuditAction::ALL.len());
    assert!(AuditAction::ALL.iter().all(|what| AuditAction::from_word(what.word()) == Some(*what)));
}

async fn it_is_told_who_did_it(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let somebody = Uuid::now_v7();
    for (own, by) in [("r1", By::Nobody), ("r2", By::Person(somebody)), ("r3", By::Token(somebody))]
    {
        let change = Change::Receive(vec![receipt(own, 3, "soap", 1)]);
        let asked = shop.asked().by(by);
        let outcome = shop.store.change_plainly(&asked, &change).await.unwrap();
        let deed = shop.store.deed(shop.shop, outcome.deed).await.unwrap().unwrap();
        let told = AuditEntry {
            id: outcome.deed,
            at: noon(20),
            by,
            what: AuditAction::Received,
            of: "soap".to_owned(),
            undone_at: None,
            can_be_undone: true,
            wrong: None,
        };
        assert_eq!(deed, told);
    }
    let of =
        |deeds: Vec<AuditEntry>, what| deeds.into_iter().find(|deed| deed.what == what).unwrap();
    assert!(of(deeds(&shop).await, AuditAction::Product).can_be_undone);
    assert!(!of(deeds(&shop).await, AuditAction::Shop).can_be_undone, "a shop stays");
}

async fn what_failed_is_not_told_of(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let before = deeds(&shop).await;
    shop.refused(Change::Pour(vec![pour("p1", noon(3), "wax", 1)])).await;
    shop.refused(Change::StartJob { job: id("j1"), at: noon(3) }).await;
    assert_eq!(deeds(&shop).await, before);
}

fn answer(outcome: &Effects) -> Answer {
    Answer { status: 201, body: outcome.deed.to_string() }
}

async fn finish_of(shop: &TestShop, own: &str) -> Change {
    let job = shop.store.get::<Job>(shop.shop, own).await.unwrap();
    let pours = vec![Pour { job: Some(id(own)), ..pour("p1", noon(5), "soap", 50) }];
    Change::FinishJob(Finish { job, at: noon(5), pours, expected: vec![] })
}

async fn the_same_request_again_is_not_told_of(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 3, "soap", 1)])).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let before = deeds(&shop).await.len();
    let finish = finish_of(&shop, "j1").await;
    let count = Change::Count(count("c1", noon(6), "soap", 940));
    for (key, change) in [("k1", finish), ("k2", count)] {
        let asked = shop.asked().once(key, "one");
        let first = shop.store.change(&asked, &change, answer).await.unwrap();
        assert!(matches!(first, Answered::Fresh(..)));
        let again = shop.store.change(&asked, &change, answer).await.unwrap();
        assert!(matches!(&again, Answered::Replayed(_)));
        assert_eq!(again.answer(), first.answer());
    }
    assert_eq!(deeds(&shop).await.len(), before + 2);
    let undo = Change::Undo { deed: deeds(&shop).await[0].id };
    let asked = shop.asked().once("k3", "one");
    let first = shop.store.change(&asked, &undo, answer).await.unwrap();
    let again = shop.store.change(&asked, &undo, answer).await.unwrap();
    assert!(matches!(&again, Answered::Replayed(before) if before == first.answer()));
    assert_eq!(deeds(&shop).await.len(), before + 3);
}

async fn an_answer_knows_its_deed(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 3, "soap", 1)])).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let finish = finish_of(&shop, "j1").await;
    let done = shop.store.change(&shop.asked(), &finish, answer).await.unwrap();
    let deed = Uuid::parse_str(&done.answer().body).unwrap();
    let deed = shop.store.deed(shop.shop, deed).await.unwrap().unwrap();
    assert_eq!((deed.what, deed.of.as_str()), (AuditAction::JobFinished, "j1"));
}

async fn deeds_are_read_page_by_page(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    for day in 2..9 {
        let asked = WriteContext::plainly(shop.shop, noon(day));
        let change = Change::Receive(vec![receipt(&format!("r{day}"), 2, "soap", 1)]);
        shop.store.change_plainly(&asked, &change).await.unwrap();
    }
    let all = deeds(&shop).await;
    let (mut read, mut before) = (Vec::new(), None);
    loop {
        let page = shop.store.deeds(shop.shop, before, 3).await.unwrap();
        assert!(page.len() <= 3);
        let Some(last) = page.last() else { break };
        before = Some(last.id);
        read.extend(page);
    }
    assert_eq!(read, all);
    assert!(read.windows(2).all(|pair| pair[0].id > pair[1].id));
}

async fn the_deeds_of_a_shop_are_its_own(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let other = TestShop::with_soap(&fresh).await;
    let received = shop.done(Change::Receive(vec![receipt("r1", 3, "soap", 1)])).await;
    assert_eq!(other.store.deed(other.shop, received.deed).await.unwrap(), None);
    assert!(deeds(&other).await.iter().all(|deed| deed.id != received.deed));
    let undo = Change::Undo { deed: received.deed };
    let refused = other.tries(undo).await.unwrap_err();
    assert!(matches!(refused, StoreError::NotFound { what: "deed", .. }), "{refused}");
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000"]);
}
