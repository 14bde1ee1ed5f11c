//! What the books do not need is kept for as long as it is said to be, and no longer.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::{
    Answer, By, Change, Forgotten, NewPerson, NewSession, Retention, Role, WriteContext,
};
use chrono::{DateTime, TimeDelta, Utc};
use common::{Fresh, TestShop, job, noon};

on_both!(
    answers_and_sessions_go_when_their_time_has_come,
    the_audit_log_stays_for_ever_where_nothing_else_is_said,
    the_audit_log_goes_day_by_day,
);

/// Books a job at a moment, as a request that may come again.
async fn books(shop: &TestShop, own: &str, at: DateTime<Utc>) {
    let asked = WriteContext::plainly(shop.shop, at).once(own, "print");
    let answer = |_: &_| Answer { status: 201, body: "{}".to_owned() };
    shop.store.change(&asked, &Change::Book(job(own, 25)), answer).await.unwrap();
}

async fn answers(shop: &TestShop, own: &str) -> bool {
    let asked = WriteContext::plainly(shop.shop, noon(20)).once(own, "print");
    shop.store.answered_before(&asked).await.unwrap().is_some()
}

async fn answers_and_sessions_go_when_their_time_has_come(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    books(&shop, "j1", noon(10)).await;
    books(&shop, "j2", noon(11)).await;
    let new = NewPerson {
        shop: shop.shop,
        sign_in: "ann",
        name: "Ann",
        role: Role::Owner,
        password_hash: "hash",
    };
    let ann = shop.store.add_person(&new, noon(1), By::Nobody).await.unwrap();
    let session = NewSession {
        shop: shop.shop,
        person: ann.id,
        text: "long and random",
        expires_at: noon(12),
    };
    shop.store.add_session(&session, noon(2)).await.unwrap();
    let kept = Retention { sessions: TimeDelta::days(4), ..Retention::default() };
    let forget = async |now| shop.store.forget_old(&kept, now).await.unwrap();

    assert_eq!(forget(noon(12)).await, Forgotten::default());
    let later = noon(12) + TimeDelta::minutes(1);
    assert_eq!(forget(later).await, Forgotten { answers: 1, ..Forgotten::default() });
    assert_eq!((answers(&shop, "j1").await, answers(&shop, "j2").await), (false, true));
    assert_eq!(forget(noon(16)).await, Forgotten { answers: 1, ..Forgotten::default() });
    assert!(shop.store.session("long and random").await.unwrap().is_some());
    let later = noon(16) + TimeDelta::minutes(1);
    assert_eq!(forget(later).await, Forgotten { sessions: 1, ..Forgotten::default() });
    assert!(shop.store.session("long and random").await.unwrap().is_none());
}

async fn the_audit_log_stays_for_ever_where_nothing_else_is_said(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let before = shop.store.deeds(shop.shop, None, 100).await.unwrap();
    let in_ten_years = noon(1) + TimeDelta::days(3650);
    let forgotten = shop.store.forget_old(&Retention::default(), in_ten_years).await.unwrap();
    assert_eq!(forgotten.deeds, 0);
    assert_eq!(shop.store.deeds(shop.shop, None, 100).await.unwrap(), before);
}

async fn the_audit_log_goes_day_by_day(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let other = TestShop::with_soap(&fresh).await;
    for (own, day) in [("j1", 21), ("j2", 22), ("j3", 23)] {
        books(&shop, own, noon(day)).await;
        books(&other, own, noon(day)).await;
    }
    let kept = Retention { audit: Some(TimeDelta::days(3)), ..Retention::default() };
    let of = async |shop: &TestShop| {
        let deeds = shop.store.deeds(shop.shop, None, 100).await.unwrap();
        deeds.into_iter().map(|deed| deed.of).collect::<Vec<String>>()
    };
    // What is exactly as old as it is kept stays.
    shop.store.forget_old(&kept, noon(24)).await.unwrap();
    assert_eq!(of(&shop).await, ["j3", "j2", "j1"]);
    let later = noon(24) + TimeDelta::seconds(1);
    assert_eq!(shop.store.forget_old(&kept, later).await.unwrap().deeds, 2);
    assert_eq!(
        (of(&shop).await, of(&other).await),
        (vec!["j3".into(), "j2".into()], vec!["j3".to_owned(), "j2".to_owned()])
    );
    // The books do not need it.
    shop.is_as_replayed().await;
}
