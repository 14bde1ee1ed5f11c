//! What signing in is held to: how many tries there are, who is known again, and what is told of
//! wrong ones.

#![allow(clippy::unwrap_used)]

mod common;

use std::net::IpAddr;
use std::sync::Arc;

use capful_store::{
    Answer, AuditAction, AuditEntry, By, NewPerson, NewSession, Person, Role, SignOut, StoreError,
    TryKey, WriteContext,
};
use chrono::{DateTime, TimeDelta, Utc};
use common::{Fresh, TestShop, noon};
use uuid::Uuid;

on_both!(
    wrong_passwords_keep_waiting,
    many_at_once_are_no_more_looks,
    a_right_password_is_no_wrong_one,
    names_that_nobody_has_are_counted_alike,
    the_table_of_tries_does_not_grow,
    a_device_is_known_again,
    a_person_is_unlocked,
    a_wrong_sign_in_is_told_once_in_a_while,
    nobody_fills_the_list,
    a_wrong_sign_in_of_nobody_is_the_only_shops,
    sessions_are_listed_and_ended,
);

async fn ann(shop: &TestShop) -> Person {
    let (sign_in, name, password_hash) = ("ann", "Ann", "hash");
    let new = NewPerson { shop: shop.shop, sign_in, name, role: Role::Owner, password_hash };
    shop.store.add_person(&new, noon(2), By::Nobody).await.unwrap()
}

/// How long the next try waits, in seconds, once as many were taken as there may be.
async fn takes(shop: &TestShop, key: TryKey, now: DateTime<Utc>) -> Option<i64> {
    let until = shop.store.take_try(&[key], now).await.unwrap();
    until.map(|until| (until - now).num_seconds())
}

async fn wrong_passwords_keep_waiting(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let (key, mut now) = (TryKey::name("ann"), noon(3));
    for _ in 0..5 {
        assert_eq!(takes(&shop, key, now).await, None, "four are free, and the fifth is looked at");
    }
    for wait in [30, 60, 120, 240, 480, 900, 900, 900] {
        assert_eq!(takes(&shop, key, now).await, Some(wait));
        assert_eq!(takes(&shop, key, now).await, Some(wait), "one that waits is not counted");
        now += TimeDelta::seconds(wait);
        assert_eq!(takes(&shop, key, now).await, None);
    }
    // After a day without any it begins anew.
    now += TimeDelta::days(1);
    for _ in 0..5 {
        assert_eq!(takes(&shop, key, now).await, None);
    }
    assert_eq!(takes(&shop, key, now).await, Some(30));
}

async fn many_at_once_are_no_more_looks(fresh: Fresh) {
    let shop = Arc::new(TestShop::with_soap(&fresh).await);
    let other = Arc::new(fresh.store().await);
    let tries = (0..60).map(|number| {
        let (shop, other) = (Arc::clone(&shop), Arc::clone(&other));
        tokio::spawn(async move {
            let store = if number % 2 == 0 { &shop.store } else { &*other };
            store.take_try(&[TryKey::name("ann")], noon(3)).await.unwrap().is_none()
        })
    });
    let mut looks = 0;
    for tried in tries.collect::<Vec<_>>() {
        looks += usize::from(tried.await.unwrap());
    }
    assert_eq!(looks, 5, "of 60 at the same time, at two services");
}

async fn a_right_password_is_no_wrong_one(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let (name, address) = (TryKey::name("ann"), TryKey::address("192.0.2.7".parse().unwrap()));
    for _ in 0..100 {
        let until = shop.store.take_try(&[name, address], noon(3)).await.unwrap();
        assert_eq!(until, None);
        shop.store.forget_tries_of(&[name, address]).await.unwrap();
    }
    // Of an address, it takes back its own try alone: others try there too.
    for number in 0..18 {
        let other = TryKey::name(&format!("other-{number}"));
        assert_eq!(shop.store.take_try(&[other, address], noon(3)).await.unwrap(), None);
    }
    assert_eq!(shop.store.take_try(&[name, address], noon(3)).await.unwrap(), None);
    shop.store.forget_tries_of(&[name, address]).await.unwrap();
    for wait in [None, None, None, Some(30)] {
        assert_eq!(takes(&shop, address, noon(3)).await, wait);
    }
    // Who waits at one address is not kept from another.
    let elsewhere = TryKey::address("192.0.2.8".parse().unwrap());
    assert_eq!(shop.store.take_try(&[name, elsewhere], noon(3)).await.unwrap(), None);
    assert!(shop.store.take_try(&[name, address], noon(3)).await.unwrap().is_some());
}

async fn names_that_nobody_has_are_counted_alike(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    ann(&shop).await;
    for name in [" ANN ", "nobody"] {
        for _ in 0..5 {
            assert_eq!(takes(&shop, TryKey::name(name), noon(3)).await, None);
        }
        assert_eq!(takes(&shop, TryKey::name(name), noon(3)).await, Some(30));
    }
    assert_eq!(takes(&shop, TryKey::name("ann"), noon(3)).await, Some(30), "capitals are as good");
    let site = |text: &str| TryKey::address(text.parse::<IpAddr>().unwrap());
    assert_eq!(site("2001:db8::1"), site("2001:db8::ffff:2"), "the first half is one site's");
    assert_ne!(site("2001:db8::1"), site("2001:db8:0:1::1"));
    assert_eq!(site("::ffff:192.0.2.7"), site("192.0.2.7"));
}

async fn the_table_of_tries_does_not_grow(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    for number in 0..50 {
        takes(&shop, TryKey::name(&format!("name-{number}")), noon(3)).await;
    }
    let keys: Vec<String> =
        (0..200_000).map(|number| format!("{:?}", TryKey::name(&number.to_string()))).collect();
    let places = keys.iter().collect::<std::collections::HashSet<_>>().len();
    assert!((60_000..=65_536).contains(&places), "{places}");
    assert_eq!(shop.store.forget_tries(noon(3)).await.unwrap(), 0);
    assert!(shop.store.forget_tries(noon(4)).await.unwrap() >= 49);
}

async fn a_device_is_known_again(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = ann(&shop).await;
    assert_eq!(shop.store.device("text").await.unwrap(), None);
    shop.store.add_device(shop.shop, ann.id, "text", noon(3)).await.unwrap();
    let device = shop.store.device("text").await.unwrap().unwrap();
    assert_eq!(device.person, ann.id);
    // What others try with the name is not counted against it.
    for _ in 0..9 {
        takes(&shop, TryKey::name("ann"), noon(3)).await;
    }
    assert!(takes(&shop, TryKey::name("ann"), noon(3)).await.is_some());
    for _ in 0..10 {
        assert_eq!(takes(&shop, TryKey::device(device.id), noon(3)).await, None);
    }
    assert_eq!(takes(&shop, TryKey::device(device.id), noon(3)).await, Some(30));
    // The twenty that were seen last are known, and none once the person has ended.
    shop.store.see_device(shop.shop, device.id, noon(5)).await.unwrap();
    for number in 0..20 {
        let text = format!("text-{number}");
        shop.store.add_device(shop.shop, ann.id, &text, noon(4)).await.unwrap();
    }
    assert!(shop.store.device("text").await.unwrap().is_some());
    assert!(shop.store.device("text-0").await.unwrap().is_none());
    assert_eq!(shop.store.forget_devices(noon(5)).await.unwrap(), 19);
    let (sign_in, name, password_hash) = ("bea", "Bea", "hash");
    let bea = NewPerson { shop: shop.shop, sign_in, name, role: Role::Owner, password_hash };
    shop.store.add_person(&bea, noon(5), By::Nobody).await.unwrap();
    let ask = WriteContext::plainly(shop.shop, noon(5));
    shop.store.end_person(ann.id, &ask, |_| answer()).await.unwrap();
    assert_eq!(shop.store.device("text").await.unwrap(), None);
}

async fn a_person_is_unlocked(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = ann(&shop).await;
    let keys = [TryKey::name("ann"), TryKey::person(ann.id)];
    for key in keys {
        for _ in 0..6 {
            takes(&shop, key, noon(3)).await;
        }
        assert!(takes(&shop, key, noon(3)).await.is_some());
    }
    shop.store.unlock_person(shop.shop, ann.id, noon(3), By::Nobody).await.unwrap();
    for key in keys {
        assert_eq!(takes(&shop, key, noon(3)).await, None);
    }
    let deed = shop.store.deeds(shop.shop, None, 1).await.unwrap().remove(0);
    assert_eq!((deed.what, deed.of), (AuditAction::SignInUnlocked, ann.id.to_string()));
    let nobody = shop.store.unlock_person(shop.shop, Uuid::now_v7(), noon(3), By::Nobody).await;
    assert!(matches!(nobody, Err(StoreError::NotFound { what: "person", .. })));
}

async fn wrong(shop: &TestShop) -> Vec<AuditEntry> {
    let deeds = shop.store.deeds(shop.shop, None, 500).await.unwrap();
    deeds.into_iter().filter(|deed| deed.what == AuditAction::SignInWrong).collect()
}

async fn a_wrong_sign_in_is_told_once_in_a_while(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = ann(&shop).await;
    let later = |seconds| noon(3) + TimeDelta::seconds(seconds);
    for (address, seconds) in
        [("192.0.2.7", 0), ("192.0.2.7", 9), ("192.0.2.8", 10), ("192.0.2.7", 899)]
    {
        let now = later(seconds);
        shop.store.note_wrong_sign_in(Some(&ann), address, now).await.unwrap();
    }
    let told = wrong(&shop).await;
    assert_eq!(told.len(), 2);
    let (other, own) = (told[0].wrong.clone().unwrap(), told[1].wrong.clone().unwrap());
    assert_eq!((own.address.as_str(), own.count, own.last_at), ("192.0.2.7", 3, later(899)));
    assert_eq!((other.address.as_str(), other.count), ("192.0.2.8", 1));
    assert_eq!((told[1].at, told[1].of.clone()), (noon(3), ann.id.to_string()));
    assert!(!told[0].can_be_undone && told[0].by == By::Nobody);
    // The next quarter of an hour is told by itself.
    shop.store.note_wrong_sign_in(Some(&ann), "192.0.2.7", later(900)).await.unwrap();
    assert_eq!(wrong(&shop).await.len(), 3);
}

async fn nobody_fills_the_list(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = ann(&shop).await;
    for number in 0..60 {
        let address = format!("192.0.2.{number}");
        shop.store.note_wrong_sign_in(Some(&ann), &address, noon(3)).await.unwrap();
        shop.store.note_wrong_sign_in(None, &address, noon(3)).await.unwrap();
    }
    let told = wrong(&shop).await;
    assert_eq!(told.len(), 22);
    let counted: u64 = told.iter().map(|deed| deed.wrong.as_ref().unwrap().count).sum();
    assert_eq!(counted, 120, "none is left out of the count");
}

async fn a_wrong_sign_in_of_nobody_is_the_only_shops(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.store.note_wrong_sign_in(None, "192.0.2.7", noon(3)).await.unwrap();
    assert_eq!(wrong(&shop).await[0].of, "");
    let other = TestShop::with_soap(&fresh).await;
    shop.store.note_wrong_sign_in(None, "192.0.2.7", noon(4)).await.unwrap();
    assert_eq!((wrong(&shop).await.len(), wrong(&other).await.len()), (1, 0));
}

fn answer() -> Answer {
    Answer { status: 303, body: "/people".to_owned() }
}

async fn sessions_are_listed_and_ended(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let ann = ann(&shop).await;
    for text in ["one", "two", "three"] {
        let (person, expires_at) = (ann.id, noon(20));
        let new = NewSession { shop: shop.shop, person, text, expires_at };
        let device = format!("phone {text}");
        shop.store.add_session_from(&new, &device, "192.0.2.7", noon(3)).await.unwrap();
    }
    let list = async || shop.store.sessions_of(shop.shop, ann.id, noon(9)).await.unwrap();
    let all = list().await;
    let words: Vec<&str> = all.iter().map(|session| session.device.as_str()).collect();
    assert_eq!(words, ["phone three", "phone two", "phone one"]);
    assert_eq!((all[0].address.as_str(), all[0].confirmed_at), ("192.0.2.7", Some(noon(3))));
    shop.store.see_session(shop.shop, all[0].id, "192.0.2.8", noon(5)).await.unwrap();
    shop.store.confirm_session(shop.shop, all[0].id, noon(6)).await.unwrap();
    let seen = list().await.remove(0);
    assert_eq!((seen.address.as_str(), seen.seen_at), ("192.0.2.8", Some(noon(5))));
    assert_eq!(seen.confirmed_at, Some(noon(6)));

    let ask = WriteContext::plainly(shop.shop, noon(7)).once("key", "form");
    let one = SignOut::One { person: ann.id, session: all[1].id };
    for _ in 0..2 {
        shop.store.sign_out(one, None, &ask, answer()).await.unwrap();
    }
    assert_eq!(list().await.len(), 2);
    let of_another = SignOut::One { person: ann.id, session: Uuid::now_v7() };
    let ask = WriteContext::plainly(shop.shop, noon(7));
    let missing = shop.store.sign_out(of_another, None, &ask, answer()).await;
    assert!(matches!(missing, Err(StoreError::NotFound { what: "session", .. })));
    let but = Some(all[0].id);
    shop.store.sign_out(SignOut::Person(ann.id), but, &ask, answer()).await.unwrap();
    assert_eq!(list().await.len(), 1);
    shop.store.sign_out(SignOut::Everybody, None, &ask, answer()).await.unwrap();
    assert!(list().await.is_empty());
    let deeds = shop.store.deeds(shop.shop, None, 4).await.unwrap();
    let out = deeds.iter().filter(|deed| deed.what == AuditAction::SignedOut);
    assert_eq!(out.count(), 3, "one that came twice is told of once");
    assert_eq!((deeds[0].of.as_str(), deeds[1].of.clone()), ("", ann.id.to_string()));
}
