//! People sign in, are kept waiting where they guess, and are gone when they have ended.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;

use capful_domain::{Currency, Facts, Shop};
use capful_store::{
    Answer, By, Change, FirstRun, NewPerson, NewSession, NewToken, Person, PersonChanged, Role,
    Scope, StoreError, TryKey, WriteContext,
};
use chrono::{DateTime, Utc};
use common::{Fresh, TestShop, noon};
use uuid::Uuid;

on_both!(
    a_sign_in_is_of_one_person,
    what_cannot_be_a_person_is_refused,
    people_are_told_in_their_order,
    a_session_lives_until_it_ends,
    a_session_says_how_its_shop_is_set_up,
    another_password_ends_all_sessions,
    who_has_ended_is_gone,
    the_last_owner_stays,
    two_owners_do_not_end_each_other,
    old_sessions_are_forgotten,
    a_form_that_comes_twice_makes_one,
    who_has_ended_leaves_no_token,
    who_owns_no_more_leaves_no_token,
    one_shop_is_opened_by_one_owner,
    a_shop_that_is_there_gets_one_owner,
    a_folder_taken_over_beside_a_first_run_makes_no_other_shop,
);

async fn add(shop: &TestShop, sign_in: &str, role: Role) -> Result<Person, StoreError> {
    let password_hash = "hash-of-a-password";
    let new = NewPerson { shop: shop.shop, sign_in, name: "Ann Lee", role, password_hash };
    shop.store.add_person(&new, noon(2), By::Nobody).await
}

/// Asked by nobody, at noon of a day.
fn at(shop: &TestShop, day: u32) -> WriteContext {
    WriteContext::plainly(shop.shop, noon(day))
}

fn led() -> Answer {
    Answer { status: 303, body: "/people".to_owned() }
}

fn changed(changed: &PersonChanged) -> Answer {
    Answer { status: 303, body: format!("/people?tokens={}", changed.tokens_revoked) }
}

async fn added(shop: &TestShop, sign_in: &str, role: Role) -> Person {
    add(shop, sign_in, role).await.unwrap()
}

async fn signs_in(shop: &TestShop, person: &Person, text: &str) {
    let expires_at = noon(10);
    let new = NewSession { shop: shop.shop, person: person.id, text, expires_at };
    shop.store.add_session(&new, noon(3)).await.unwrap();
}

async fn is_in(shop: &TestShop, text: &str, now: DateTime<Utc>) -> bool {
    let found = shop.store.session(text).await.unwrap();
    found.is_some_and(|(session, _)| session.is_good(now))
}

async fn a_sign_in_is_of_one_person(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    assert!(!shop.store.has_people().await.unwrap());
    let ann = added(&shop, " Ann@Gulls.example ", Role::Owner).await;
    assert_eq!(ann.sign_in, "Ann@Gulls.example");
    assert!(shop.store.has_people().await.unwrap());
    let twice = add(&shop, "ann@gulls.EXAMPLE", Role::Helper).await.unwrap_err();
    assert!(matches!(twice, StoreError::Conflict { what: "person", .. }), "{twice}");

    // Whoever signs in says no shop: another's people have other sign-ins.
    let other = TestShop::with_soap(&fresh).await;
    let twice = add(&other, "ann@gulls.example", Role::Owner).await.unwrap_err();
    assert!(matches!(twice, StoreError::Conflict { .. }), "{twice}");

    let found = shop.store.signing_in("ANN@gulls.example").await.unwrap().unwrap();
    assert_eq!(found.person, ann);
    assert_eq!(found.password_hash, "hash-of-a-password");
    assert_eq!(shop.store.signing_in("bea").await.unwrap(), None);
    // Whatever is typed is looked for.
    assert_eq!(shop.store.signing_in("ann\0@gulls.example").await.unwrap(), None);
}

async fn what_cannot_be_a_person_is_refused(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let long = "a".repeat(81);
    for (sign_in, name, right) in [
        ("", "Ann", "sign_in: a text"),
        ("  ", "Ann", "sign_in: a text"),
        ("an\nn", "Ann", "sign_in: a text of one line, without control characters"),
        (&long, "Ann", "sign_in: a text of at most 80 characters"),
        ("ann", "", "name: a text"),
        ("ann", &long, "name: a text of at most 80 characters"),
    ] {
        let role = Role::Owner;
        let new = NewPerson { shop: shop.shop, sign_in, name, role, password_hash: "hash" };
        let refused = shop.store.add_person(&new, noon(2), By::Nobody).await.unwrap_err();
        assert!(matches!(refused, StoreError::Refused(_)));
        assert_eq!(refused.to_string(), right);
    }
    let nowhere = TestShop { shop: Uuid::now_v7(), store: shop.store };
    let refused = add(&nowhere, "ann", Role::Owner).await.unwrap_err();
    assert!(matches!(refused, StoreError::Refused(_)), "{refused}");
    assert!(!nowhere.store.has_people().await.unwrap());
}

async fn people_are_told_in_their_order(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    for (sign_in, role) in [("cat", Role::Owner), ("ann", Role::Owner), ("bea", Role::Helper)] {
        added(&shop, sign_in, role).await;
    }
    let cat = shop.store.people(shop.shop).await.unwrap().remove(0);
    let edited = shop
        .store
        .edit_person(cat.id, "Cat Roe", Role::Helper, &at(&shop, 4), changed)
        .await
        .unwrap();
    let edited = edited.now().unwrap().person;
    assert_eq!(edited, Person { name: "Cat Roe".to_owned(), role: Role::Helper, ..cat.clone() });
    shop.store.end_person(cat.id, &at(&shop, 4), changed).await.unwrap();
    let people = shop.store.people(shop.shop).await.unwrap();
    let order: Vec<&str> = people.iter().map(|person| person.sign_in.as_str()).collect();
    assert_eq!(order, ["ann", "bea", "cat"]);
    assert_eq!(people[2], Person { ended_at: Some(noon(4)), ..edited });

    let missing =
        shop.store.edit_person(Uuid::now_v7(), "Dot", Role::Owner, &at(&shop, 4), changed).await;
    assert!(matches!(missing, Err(StoreError::NotFound { what: "person", .. })));
    let ended = shop
        .store
        .edit_person(cat.id, "Cat", Role::Owner, &at(&shop, 4), changed)
        .await
        .unwrap_err();
    assert!(matches!(ended, StoreError::Refused(_)), "{ended}");
}

async fn a_session_lives_until_it_ends(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    signs_in(&shop, &ann, "text-one").await;
    signs_in(&shop, &ann, "text-two").await;
    let (session, _) = shop.store.session("text-one").await.unwrap().unwrap();
    assert_eq!((&session.person, session.shop, session.made_at), (&ann, shop.shop, noon(3)));
    assert!(session.is_good(noon(9)) && !session.is_good(noon(10)), "it ends by itself");
    assert!(shop.store.session("text-three").await.unwrap().is_none());

    shop.store.end_session(shop.shop, session.id, noon(4)).await.unwrap();
    shop.store.end_session(shop.shop, session.id, noon(5)).await.unwrap();
    let (ended, _) = shop.store.session("text-one").await.unwrap().unwrap();
    assert_eq!(ended.ended_at, Some(noon(4)));
    assert!(!ended.is_good(noon(4)));
    assert!(is_in(&shop, "text-two", noon(4)).await);
    shop.store.end_sessions(shop.shop, ann.id, noon(5)).await.unwrap();
    assert!(!is_in(&shop, "text-two", noon(5)).await);
    let (ended, _) = shop.store.session("text-one").await.unwrap().unwrap();
    assert_eq!(ended.ended_at, Some(noon(4)), "one that was ended before stays so since then");

    let missing = shop.store.end_session(shop.shop, Uuid::now_v7(), noon(5)).await;
    assert!(matches!(missing, Err(StoreError::NotFound { what: "session", .. })));
    let (person, expires_at) = (Uuid::now_v7(), noon(10));
    let new = NewSession { shop: shop.shop, person, text: "text-four", expires_at };
    let nobody = shop.store.add_session(&new, noon(3)).await;
    assert!(matches!(nobody, Err(StoreError::NotFound { what: "person", .. })));
}

async fn a_session_says_how_its_shop_is_set_up(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    signs_in(&shop, &ann, "text").await;
    let (_, before) = shop.store.session("text").await.unwrap().unwrap();
    assert_eq!(before, shop.store.set_up_stamp(shop.shop).await.unwrap());
    shop.product("wax").await;
    let (_, after) = shop.store.session("text").await.unwrap().unwrap();
    assert_ne!(after, before);
    assert_eq!(after, shop.store.set_up_stamp(shop.shop).await.unwrap());
}

async fn another_password_ends_all_sessions(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Helper).await;
    signs_in(&shop, &ann, "of-ann").await;
    signs_in(&shop, &bea, "of-bea").await;
    let name = [TryKey::name("ann")];
    for _ in 0..5 {
        assert_eq!(shop.store.take_try(&name, noon(3)).await.unwrap(), None);
    }
    assert!(shop.store.take_try(&name, noon(3)).await.unwrap().is_some());
    shop.store.set_password(ann.id, "another", None, &at(&shop, 4), led()).await.unwrap();
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!(found.password_hash.as_str(), "another");
    assert_eq!(shop.store.take_try(&name, noon(3)).await.unwrap(), None, "nobody waits");
    assert!(!is_in(&shop, "of-ann", noon(4)).await);
    assert!(is_in(&shop, "of-bea", noon(4)).await);
    let empty = shop.store.set_password(ann.id, "", None, &at(&shop, 4), led()).await.unwrap_err();
    assert!(matches!(empty, StoreError::Refused(_)), "{empty}");
}

async fn who_has_ended_is_gone(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Helper).await;
    signs_in(&shop, &bea, "of-bea").await;
    shop.store.end_person(bea.id, &at(&shop, 4), changed).await.unwrap();
    shop.store.end_person(bea.id, &at(&shop, 5), changed).await.unwrap();
    let (session, _) = shop.store.session("of-bea").await.unwrap().unwrap();
    assert_eq!((session.ended_at, session.is_good(noon(4))), (Some(noon(4)), false));
    assert_eq!(shop.store.signing_in("bea").await.unwrap(), None);
    let password = shop.store.set_password(bea.id, "another", None, &at(&shop, 6), led()).await;
    assert!(matches!(password, Err(StoreError::Refused(_))));
    let new = NewSession { shop: shop.shop, person: bea.id, text: "late", expires_at: noon(10) };
    let session = shop.store.add_session(&new, noon(6)).await;
    assert!(matches!(session, Err(StoreError::Refused(_))));

    // What she signed in with is free, also for herself.
    let again = added(&shop, "Bea", Role::Helper).await;
    assert_ne!(again.id, bea.id);
    let people = shop.store.people(shop.shop).await.unwrap();
    let ended = people.iter().find(|person| person.id == bea.id).unwrap();
    assert_eq!(ended, &Person { ended_at: Some(noon(4)), ..bea });
}

async fn the_last_owner_stays(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Helper).await;
    signs_in(&shop, &ann, "of-ann").await;
    let ended = shop.store.end_person(ann.id, &at(&shop, 4), changed).await.unwrap_err();
    assert!(matches!(ended, StoreError::Refused(_)), "{ended}");
    let helper = shop
        .store
        .edit_person(ann.id, "Ann", Role::Helper, &at(&shop, 4), changed)
        .await
        .unwrap_err();
    assert!(matches!(helper, StoreError::Refused(_)), "{helper}");
    assert!(is_in(&shop, "of-ann", noon(4)).await);
    shop.store.edit_person(ann.id, "Ann", Role::Owner, &at(&shop, 4), changed).await.unwrap();
    shop.store.edit_person(bea.id, "Bea", Role::Owner, &at(&shop, 4), changed).await.unwrap();
    shop.store.end_person(ann.id, &at(&shop, 4), changed).await.unwrap();
    let ended = shop.store.end_person(bea.id, &at(&shop, 4), changed).await.unwrap_err();
    assert!(matches!(ended, StoreError::Refused(_)), "{ended}");
}

async fn two_owners_do_not_end_each_other(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let other = fresh.store().await;
    for round in 0..5 {
        let ann = added(&shop, &format!("ann{round}"), Role::Owner).await;
        let bea = added(&shop, &format!("bea{round}"), Role::Owner).await;
        for person in shop.store.people(shop.shop).await.unwrap() {
            if person.id != ann.id && person.id != bea.id {
                shop.store.end_person(person.id, &at(&shop, 4), changed).await.unwrap();
            }
        }
        let asked = at(&shop, 4);
        let (one, two) = tokio::join!(
            shop.store.end_person(ann.id, &asked, changed),
            other.end_person(bea.id, &asked, changed),
        );
        assert!(one.is_ok() != two.is_ok(), "{one:?} {two:?}");
    }
}

async fn old_sessions_are_forgotten(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    for text in ["one", "two"] {
        signs_in(&shop, &ann, text).await;
    }
    let (one, _) = shop.store.session("one").await.unwrap().unwrap();
    shop.store.end_session(shop.shop, one.id, noon(4)).await.unwrap();
    assert_eq!(shop.store.forget_sessions(noon(4)).await.unwrap(), 0);
    assert_eq!(shop.store.forget_sessions(noon(5)).await.unwrap(), 1);
    assert!(shop.store.session("one").await.unwrap().is_none());
    assert!(is_in(&shop, "two", noon(5)).await);
    assert_eq!(shop.store.forget_sessions(noon(11)).await.unwrap(), 1);
}

async fn a_form_that_comes_twice_makes_one(fresh: Fresh) {
    let shop = Arc::new(TestShop::with_soap(&fresh).await);
    let other = Arc::new(fresh.store().await);
    let ask = at(&shop, 4).once("key", "form");
    let twice = [Arc::clone(&other), Arc::new(fresh.store().await)].map(|store| {
        let (shop, ask) = (shop.shop, ask.clone());
        tokio::spawn(async move {
            let text = &Uuid::now_v7().to_string();
            let (scope, label, expires_at) = (Scope::Read, "till", None);
            let new = NewToken { shop, text, scope, label, expires_at };
            store.add_token_once(&new, &ask, led()).await.unwrap().now().is_some()
        })
    });
    let mut made = 0;
    for one in twice {
        made += usize::from(one.await.unwrap());
    }
    assert_eq!((made, shop.store.tokens(shop.shop).await.unwrap().len()), (1, 1));

    let (sign_in, password_hash) = ("ann", "hash");
    let new = NewPerson { shop: shop.shop, sign_in, name: "Ann", role: Role::Owner, password_hash };
    let ask = at(&shop, 4).once("another key", "form");
    for is_first in [true, false] {
        let done = shop.store.add_person_once(&new, &ask, led()).await.unwrap();
        assert_eq!(done.answer(), &led());
        assert_eq!(done.now().is_some(), is_first);
    }
    assert_eq!(shop.store.people(shop.shop).await.unwrap().len(), 1);
    let otherwise = at(&shop, 4).once("another key", "another form");
    let refused = shop.store.add_person_once(&new, &otherwise, led()).await.unwrap_err();
    assert!(matches!(refused, StoreError::SameKeyOtherBody), "{refused}");
}

/// Tokens that work, by their labels.
async fn good_tokens(shop: &TestShop) -> Vec<String> {
    let tokens = shop.store.tokens(shop.shop).await.unwrap().into_iter();
    tokens.filter(|token| token.is_good(noon(9))).map(|token| token.label).collect()
}

async fn makes_token(shop: &TestShop, by: By, label: &str) {
    let (scope, expires_at) = (Scope::Setup, None);
    let new = NewToken { shop: shop.shop, text: label, scope, label, expires_at };
    shop.store.add_token(&new, noon(3), by).await.unwrap();
}

async fn who_has_ended_leaves_no_token(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Owner).await;
    for (by, label) in [
        (By::Person(ann.id), "of ann"),
        (By::Person(bea.id), "till"),
        (By::Person(bea.id), "phone"),
        (By::Nobody, "of the machine"),
    ] {
        makes_token(&shop, by, label).await;
    }
    let ask = at(&shop, 4).by(By::Person(ann.id));
    let ended = shop.store.end_person(bea.id, &ask, changed).await.unwrap().now().unwrap();
    assert_eq!(ended.tokens_revoked, 2);
    assert_eq!(good_tokens(&shop).await, ["of ann", "of the machine"]);
    let deeds = shop.store.deeds(shop.shop, None, 3).await.unwrap();
    let told: Vec<_> = deeds.iter().map(|deed| (deed.what.word(), deed.by)).collect();
    let by = By::Person(ann.id);
    assert_eq!(told, [("token-revoked", by), ("token-revoked", by), ("person-ended", by)]);
}

async fn who_owns_no_more_leaves_no_token(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Owner).await;
    makes_token(&shop, By::Person(bea.id), "till").await;
    let same = shop.store.edit_person(bea.id, "Bea", Role::Owner, &at(&shop, 4), changed).await;
    assert_eq!(same.unwrap().now().unwrap().tokens_revoked, 0);
    assert_eq!(good_tokens(&shop).await, ["till"]);
    let less = shop.store.edit_person(bea.id, "Bea", Role::Helper, &at(&shop, 4), changed).await;
    assert_eq!(less.unwrap().now().unwrap().tokens_revoked, 1);
    assert!(good_tokens(&shop).await.is_empty());
}

fn low_tide() -> Shop {
    let currency = Currency::parse("CAD").unwrap();
    Shop::new("Low Tide", chrono_tz::America::Halifax, currency)
}

/// Several services are asked at the same time to open the shop of a database; gives who did.
async fn open_together(fresh: &Fresh) -> Vec<Person> {
    let mut asks = Vec::new();
    for number in 0..6 {
        let store = fresh.store().await;
        asks.push(tokio::spawn(async move {
            let (shop, sign_in) = (low_tide(), format!("owner-{number}"));
            let first = FirstRun {
                shop: Some(&shop),
                sign_in: &sign_in,
                name: "Ines",
                password_hash: "hash",
            };
            store.open_shop(&first, noon(2)).await.unwrap()
        }));
    }
    let mut opened = Vec::new();
    for ask in asks {
        opened.extend(ask.await.unwrap());
    }
    opened
}

async fn one_shop_is_opened_by_one_owner(fresh: Fresh) {
    let opened = open_together(&fresh).await;
    let store = fresh.store().await;
    let shops = store.shops().await.unwrap();
    assert_eq!((opened.len(), shops.len()), (1, 1));
    let (shop, settings) = &shops[0];
    assert_eq!((settings, opened[0].role), (&low_tide(), Role::Owner));
    assert_eq!(store.people(*shop).await.unwrap(), opened);
    let words: Vec<_> = store.deeds(*shop, None, 9).await.unwrap();
    let words: Vec<&str> = words.iter().map(|deed| deed.what.word()).collect();
    assert_eq!(words, ["person-added", "shop"]);
    let late = FirstRun { shop: None, sign_in: "late", name: "Late", password_hash: "hash" };
    assert_eq!(store.open_shop(&late, noon(3)).await.unwrap(), None);
}

async fn a_shop_that_is_there_gets_one_owner(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let opened = open_together(&fresh).await;
    assert_eq!((opened.len(), shop.store.shops().await.unwrap().len()), (1, 1));
    assert_eq!(opened[0].shop, shop.shop);
    let nothing = fresh.store().await;
    assert_eq!(nothing.people(shop.shop).await.unwrap(), opened);
}

async fn a_folder_taken_over_beside_a_first_run_makes_no_other_shop(fresh: Fresh) {
    let mut asks = Vec::new();
    for _ in 0..4 {
        let store = fresh.store().await;
        asks.push(tokio::spawn(async move {
            let facts = Box::new(Facts::new(low_tide()));
            let folder = Change::Import { facts, expected: vec![] };
            let asked = WriteContext::plainly(store.new_uuid(noon(2)), noon(2)).first();
            store.change_plainly(&asked, &folder).await
        }));
    }
    let opened = open_together(&fresh).await;
    for ask in asks {
        let done = ask.await.unwrap();
        assert!(matches!(done, Ok(_) | Err(StoreError::Refused(_))), "{done:?}");
    }
    let shops = fresh.store().await.shops().await.unwrap();
    assert_eq!((opened.len(), shops.len()), (1, 1));
}
