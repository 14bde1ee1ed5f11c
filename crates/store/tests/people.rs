//! People sign in, are kept waiting where they guess, and are gone when they have ended.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;

use capful_store::{By, NewPerson, NewSession, Person, Role, StoreError};
use chrono::{DateTime, Duration, Utc};
use common::{Fresh, TestShop, noon};
use uuid::Uuid;

on_both!(
    a_sign_in_is_of_one_person,
    what_cannot_be_a_person_is_refused,
    people_are_told_in_their_order,
    wrong_passwords_keep_waiting,
    no_wrong_password_is_lost,
    a_session_lives_until_it_ends,
    a_session_says_how_its_shop_is_set_up,
    another_password_ends_all_sessions,
    who_has_ended_is_gone,
    the_last_owner_stays,
    two_owners_do_not_end_each_other,
    old_sessions_are_forgotten,
);

async fn add(shop: &TestShop, sign_in: &str, role: Role) -> Result<Person, StoreError> {
    let password_hash = "hash-of-a-password";
    let new = NewPerson { shop: shop.shop, sign_in, name: "Ann Lee", role, password_hash };
    shop.store.add_person(&new, noon(2), By::Nobody).await
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
    assert_eq!((found.person, found.failures, found.may_try_at), (ann, 0, None));
    assert_eq!(found.password_hash, "hash-of-a-password");
    assert_eq!(shop.store.signing_in("bea").await.unwrap(), None);
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
        .edit_person(shop.shop, cat.id, "Cat Roe", Role::Helper, noon(4), By::Nobody)
        .await
        .unwrap();
    assert_eq!(edited, Person { name: "Cat Roe".to_owned(), role: Role::Helper, ..cat.clone() });
    shop.store.end_person(shop.shop, cat.id, noon(4), By::Nobody).await.unwrap();
    let people = shop.store.people(shop.shop).await.unwrap();
    let order: Vec<&str> = people.iter().map(|person| person.sign_in.as_str()).collect();
    assert_eq!(order, ["ann", "bea", "cat"]);
    assert_eq!(people[2], Person { ended_at: Some(noon(4)), ..edited });

    let missing = shop
        .store
        .edit_person(shop.shop, Uuid::now_v7(), "Dot", Role::Owner, noon(4), By::Nobody)
        .await;
    assert!(matches!(missing, Err(StoreError::NotFound { what: "person", .. })));
    let ended = shop
        .store
        .edit_person(shop.shop, cat.id, "Cat", Role::Owner, noon(4), By::Nobody)
        .await
        .unwrap_err();
    assert!(matches!(ended, StoreError::Refused(_)), "{ended}");
}

async fn wrong_passwords_keep_waiting(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = added(&shop, "ann", Role::Owner).await;
    let now = noon(3);
    for wait in [0, 0, 0, 0, 30, 60, 120, 240, 480, 900, 900, 900] {
        shop.store.note_failure(shop.shop, ann.id, now).await.unwrap();
        let found = shop.store.signing_in("ann").await.unwrap().unwrap();
        let expected = (wait > 0).then(|| now + Duration::seconds(wait));
        assert_eq!(found.may_try_at, expected, "after {}", found.failures);
    }
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!(found.failures, 12);
    shop.store.note_success(shop.shop, ann.id).await.unwrap();
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!((found.failures, found.may_try_at), (0, None));
    shop.store.note_failure(shop.shop, ann.id, now).await.unwrap();
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!((found.failures, found.may_try_at), (1, None), "the first ones are free again");
    let missing = shop.store.note_failure(shop.shop, Uuid::now_v7(), now).await;
    assert!(matches!(missing, Err(StoreError::NotFound { what: "person", .. })));
}

async fn no_wrong_password_is_lost(fresh: Fresh) {
    let shop = Arc::new(TestShop::with_soap(&fresh).await);
    let ann = added(&shop, "ann", Role::Owner).await;
    let tries = (0..10).map(|_| {
        let shop = Arc::clone(&shop);
        tokio::spawn(async move { shop.store.note_failure(shop.shop, ann.id, noon(3)).await })
    });
    for tried in tries.collect::<Vec<_>>() {
        tried.await.unwrap().unwrap();
    }
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!(found.failures, 10);
    assert_eq!(found.may_try_at, Some(noon(3) + Duration::minutes(15)));
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
    for _ in 0..5 {
        shop.store.note_failure(shop.shop, ann.id, noon(3)).await.unwrap();
    }
    shop.store.set_password(shop.shop, ann.id, "another", noon(4), By::Nobody).await.unwrap();
    let found = shop.store.signing_in("ann").await.unwrap().unwrap();
    assert_eq!((found.password_hash.as_str(), found.failures), ("another", 0));
    assert_eq!(found.may_try_at, None);
    assert!(!is_in(&shop, "of-ann", noon(4)).await);
    assert!(is_in(&shop, "of-bea", noon(4)).await);
    let empty =
        shop.store.set_password(shop.shop, ann.id, "", noon(4), By::Nobody).await.unwrap_err();
    assert!(matches!(empty, StoreError::Refused(_)), "{empty}");
}

async fn who_has_ended_is_gone(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    added(&shop, "ann", Role::Owner).await;
    let bea = added(&shop, "bea", Role::Helper).await;
    signs_in(&shop, &bea, "of-bea").await;
    shop.store.end_person(shop.shop, bea.id, noon(4), By::Nobody).await.unwrap();
    shop.store.end_person(shop.shop, bea.id, noon(5), By::Nobody).await.unwrap();
    let (session, _) = shop.store.session("of-bea").await.unwrap().unwrap();
    assert_eq!((session.ended_at, session.is_good(noon(4))), (Some(noon(4)), false));
    assert_eq!(shop.store.signing_in("bea").await.unwrap(), None);
    let password = shop.store.set_password(shop.shop, bea.id, "another", noon(6), By::Nobody).await;
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
    let ended = shop.store.end_person(shop.shop, ann.id, noon(4), By::Nobody).await.unwrap_err();
    assert!(matches!(ended, StoreError::Refused(_)), "{ended}");
    let helper = shop
        .store
        .edit_person(shop.shop, ann.id, "Ann", Role::Helper, noon(4), By::Nobody)
        .await
        .unwrap_err();
    assert!(matches!(helper, StoreError::Refused(_)), "{helper}");
    assert!(is_in(&shop, "of-ann", noon(4)).await);
    shop.store
        .edit_person(shop.shop, ann.id, "Ann", Role::Owner, noon(4), By::Nobody)
        .await
        .unwrap();
    shop.store
        .edit_person(shop.shop, bea.id, "Bea", Role::Owner, noon(4), By::Nobody)
        .await
        .unwrap();
    shop.store.end_person(shop.shop, ann.id, noon(4), By::Nobody).await.unwrap();
    let ended = shop.store.end_person(shop.shop, bea.id, noon(4), By::Nobody).await.unwrap_err();
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
                shop.store.end_person(shop.shop, person.id, noon(4), By::Nobody).await.unwrap();
            }
        }
        let (one, two) = tokio::join!(
            shop.store.end_person(shop.shop, ann.id, noon(4), By::Nobody),
            other.end_person(shop.shop, bea.id, noon(4), By::Nobody),
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
