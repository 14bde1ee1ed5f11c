//! An id that is there already is a conflict, whatever its row is of and whatever became of it:
//! never a database that is busy for ever.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::Job;
use capful_domain::facts::{Mix, Pour, Receipt};
use capful_store::{
    Answer, By, Change, EventKind, Finish, NewPerson, NewToken, Role, Scope, StoreError,
    WriteContext,
};
use common::{Fresh, TestShop, count, discard, id, job, mix, noon, opening, order, pour, receipt};

on_both!(
    an_id_of_another_product_is_a_conflict,
    the_id_of_a_mix_that_is_gone_is_a_conflict,
    ids_of_other_kinds_of_rows_are_free,
    an_id_of_a_jobs_end_is_a_conflict,
    texts_that_are_known_by_are_conflicts,
);

const AT: u32 = 4;

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.product("wax").await;
    let receipts = vec![receipt("r1", 2, "soap", 2), receipt("r2", 2, "wax", 2)];
    shop.done(Change::Receive(receipts)).await;
    shop
}

/// One of each kind of row that has an id of the shop's own.
fn rows(own: &str, product: &str) -> Vec<(&'static str, Change)> {
    let at = noon(AT);
    vec![
        ("mix", Change::Mix(mix(own, at, product, 500, 4))),
        ("pour", Change::Pour(vec![pour(own, at, product, 10)])),
        ("opening", Change::Open(opening(own, at, product))),
        ("count", Change::Count(count(own, at, product, 4100))),
        ("discard", Change::Discard(discard(own, at, product))),
        ("receipt", Change::Receive(vec![receipt(own, AT, product, 1)])),
        ("order", order(own, AT, product, 1)),
        ("job", Change::Book(job(own, 9))),
    ]
}

async fn conflicts(shop: &TestShop, change: Change, what: &str, own: &str) {
    let before = shop.store.facts(shop.shop, None).await.unwrap();
    let refused = shop.tries(change).await.unwrap_err();
    let is_told = |named: &str, id: &str| (named, id) == (what, own);
    let told = matches!(&refused, StoreError::Conflict { what, id } if is_told(what, id));
    assert!(told, "{what}: {refused}");
    assert_eq!(shop.store.facts(shop.shop, None).await.unwrap(), before);
    shop.is_sound().await;
}

async fn an_id_of_another_product_is_a_conflict(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    for (what, change) in rows("x1", "soap") {
        shop.done(change).await;
        for product in ["wax", "soap"] {
            let again = rows("x1", product).into_iter().find(|(kind, _)| *kind == what);
            conflicts(&shop, again.unwrap().1, what, "x1").await;
        }
    }
    let twice = vec![receipt("r9", AT, "soap", 1), receipt("r9", AT, "wax", 1)];
    conflicts(&shop, Change::Receive(twice), "receipt", "r9").await;
    let twice = vec![pour("p9", noon(AT), "soap", 1), pour("p9", noon(AT), "wax", 1)];
    conflicts(&shop, Change::Pour(twice), "pour", "p9").await;
}

/// Used up, thrown away or reversed: its name stays its own.
async fn the_id_of_a_mix_that_is_gone_is_a_conflict(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let from = |own: &str| Some(common::container(own));
    for own in ["m1", "m2", "m3"] {
        shop.done(Change::Mix(mix(own, noon(3), "soap", 500, 4))).await;
    }
    let all = Pour { container: from("m1"), ..pour("p1", noon(3), "soap", 500) };
    shop.done(Change::Pour(vec![all])).await;
    let thrown =
        capful_domain::facts::Discard { container: from("m2"), ..discard("d1", noon(3), "soap") };
    shop.done(Change::Discard(thrown)).await;
    shop.reverses(EventKind::Mix, "m3").await;
    for own in ["m1", "m2", "m3"] {
        for product in ["soap", "wax"] {
            let again = Mix { product: id(product), ..mix(own, noon(AT), "soap", 500, 4) };
            conflicts(&shop, Change::Mix(again), "mix", own).await;
        }
    }
}

/// Ids are each once among rows of their kind: what else bears one gets the next free name.
async fn ids_of_other_kinds_of_rows_are_free(fresh: Fresh) {
    for turned in [false, true] {
        let shop = stocked(&fresh).await;
        let mut rows = rows("x1", "soap");
        if turned {
            rows.reverse();
        }
        for (place, (_, change)) in rows.into_iter().enumerate() {
            shop.done(change).await;
            shop.is_as_replayed().await;
            // What was found bears the row's id as well.
            let much = pour(&format!("much{place}"), noon(AT), "wax", 9000);
            shop.done(Change::Pour(vec![much])).await;
        }
        shop.done(Change::Receive(vec![receipt("much1", AT, "wax", 2)])).await;
        shop.done(Change::Mix(mix("much2", noon(5), "wax", 99_000, 4))).await;
        shop.is_as_replayed().await;
    }
}

async fn an_id_of_a_jobs_end_is_a_conflict(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "wax", 10)])).await;
    let read = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let pours = vec![pour("p1", noon(AT), "soap", 10)];
    let end = Finish { job: read, at: noon(AT), pours, expected: vec![] };
    conflicts(&shop, Change::FinishJob(end.clone()), "pour", "p1").await;
    let pours = vec![pour("p2", noon(AT), "soap", 10)];
    shop.done(Change::FinishJob(Finish { pours, ..end })).await;
    let of_order = Receipt { order: Some(id("o1")), ..receipt("r1", AT, "soap", 1) };
    shop.done(order("o1", 3, "soap", 1)).await;
    let last = Change::ReceiveLast { receipts: vec![of_order], order: id("o1") };
    conflicts(&shop, last, "receipt", "r1").await;
}

async fn texts_that_are_known_by_are_conflicts(fresh: Fresh) {
    let shop = stocked(&fresh).await;
    let (store, now, by) = (&shop.store, noon(2), By::Nobody);
    let new = NewToken {
        shop: shop.shop,
        text: "a long secret",
        scope: Scope::Shelf,
        label: "the phone in the bay",
        expires_at: None,
    };
    store.add_token(&new, now, by).await.unwrap();
    let refused = store.add_token(&new, now, by).await.unwrap_err();
    assert!(matches!(&refused, StoreError::Conflict { what: "token", .. }), "{refused}");
    assert!(!refused.to_string().contains("secret"), "{refused}");
    assert_eq!(store.tokens(shop.shop).await.unwrap().len(), 1);
    // What somebody signs in with keeps nobody from ending another.
    let person = |sign_in: &'static str| NewPerson {
        shop: shop.shop,
        sign_in,
        name: "Mira",
        role: Role::Owner,
        password_hash: "x",
    };
    store.add_person(&person("mira"), now, by).await.unwrap();
    let leaving = store.add_person(&person("ola"), now, by).await.unwrap();
    let sign_in = leaving.id.to_string();
    let odd = NewPerson { sign_in: &sign_in, ..person("") };
    store.add_person(&odd, now, by).await.unwrap();
    let asked = WriteContext::plainly(shop.shop, now);
    let nothing = |_: &_| Answer { status: 200, body: String::new() };
    store.end_person(leaving.id, &asked, nothing).await.unwrap();
    assert!(store.signing_in("ola").await.unwrap().is_none());
    assert!(store.signing_in(&sign_in).await.unwrap().is_some());
    store.add_person(&person("ola"), now, by).await.unwrap();
}
