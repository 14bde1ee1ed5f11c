//! People and tokens on the pages: forms that come twice, who leaves, where somebody is signed in,
//! and the password that is asked again.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::{Person, Role};
use chrono::TimeDelta;
use common::door::{Door, PASSWORD, Stranger};
use reqwest::{Response, StatusCode};

/// A shop with an owner who is signed in on a phone.
async fn ines() -> (Door, Person, Stranger) {
    let (door, ines) = Door::with_ines().await;
    let phone = door.stranger("192.0.2.1");
    phone.signs_in("ines").await;
    (door, ines, phone)
}

async fn text(answer: Response, status: StatusCode) -> String {
    let got = answer.status();
    let text = answer.text().await.unwrap();
    assert_eq!(got, status, "{text}");
    text
}

/// Where a form leads that is taken.
async fn led(answer: Response) -> String {
    let to = answer.headers().get("location").map(|to| to.to_str().unwrap().to_owned());
    let _ = text(answer, StatusCode::SEE_OTHER).await;
    to.unwrap()
}

const TILL: [(&str, &str); 2] = [("label", "till"), ("scope", "setup")];
const CAT: [(&str, &str); 3] =
    [("name", "Cat"), ("sign_in", "cat"), ("password", "nine lives of a towel")];

#[tokio::test]
async fn a_token_form_that_is_sent_twice_makes_one() {
    let (door, ines, phone) = ines().await;
    let first = phone.fills_as("key", "/people/tokens", &TILL).await;
    assert!(text(first, StatusCode::OK).await.contains("value=\"capful_"));
    let second = phone.fills_as("key", "/people/tokens", &TILL).await;
    let second = text(second, StatusCode::OK).await;
    assert!(!second.contains("value=\"capful_"), "{second}");
    assert!(second.contains("This token was made already"), "{second}");
    let tokens = door.store.tokens(ines.shop).await.unwrap();
    assert_eq!((tokens.len(), tokens[0].made_by), (1, Some(ines.id)));
    assert!(phone.sees("/people/tokens").await.contains("by Ines"));
}

#[tokio::test]
async fn a_form_for_somebody_that_is_sent_twice_adds_one() {
    let (door, ines, phone) = ines().await;
    let form = [&CAT[..], &[("role", "helper")]].concat();
    for _ in 0..2 {
        let to = led(phone.fills_as("key", "/people", &form).await).await;
        assert_eq!(to, "/people?did=added");
    }
    assert_eq!(door.store.people(ines.shop).await.unwrap().len(), 2);
    let change = [("old", PASSWORD), ("password", "ten lives of a sponge")];
    for _ in 0..2 {
        let to = led(phone.fills_as("other", "/people/me", &change).await).await;
        assert_eq!(to, "/people/me?did=password", "the second is no wrong old password");
    }
    phone.sees("/people/me").await;
}

#[tokio::test]
async fn who_leaves_takes_their_tokens_along() {
    let (door, ines, phone) = ines().await;
    let bo = door.adds(ines.shop, "bo", Role::Owner).await;
    let laptop = door.stranger("192.0.2.2");
    laptop.signs_in("bo").await;
    let made = text(laptop.fills("/people/tokens", &TILL).await, StatusCode::OK).await;
    let token = common::people::value(&made, "value=\"capful_");
    let program = common::Person::at(&door.base, Some(&format!("capful_{token}")));
    assert_eq!(program.get("/api/v1/shop").await.status(), StatusCode::OK);

    let page = phone.sees(&format!("/people/{}", bo.id)).await;
    assert!(page.contains("These tokens that they made stop working too: till."), "{page}");
    let to = led(phone.fills(&format!("/people/{}/end", bo.id), &[]).await).await;
    assert_eq!(to, "/people?did=ended&tokens=1");
    let page = phone.sees(&to).await;
    assert!(page.contains("1 token that they made does not work any more."), "{page}");
    assert_eq!(program.get("/api/v1/shop").await.status(), StatusCode::UNAUTHORIZED);
    assert_eq!(laptop.get("/people/me").await.status(), StatusCode::SEE_OTHER);
    assert!(phone.sees("/deeds").await.contains("Revoked: token till."));
}

#[tokio::test]
async fn the_password_is_asked_again() {
    let (door, ines, phone) = ines().await;
    let bo = door.adds(ines.shop, "bo", Role::Helper).await;
    let boss = door.adds(ines.shop, "boss", Role::Owner).await;
    let path = |person: &Person, rest: &str| format!("/people/{}{rest}", person.id);
    let owner = [&CAT[..], &[("role", "owner")]].concat();
    let other = [("password", "ten lives of a sponge")];
    let (helper, same) =
        ([("name", "Boss"), ("role", "helper")], [("name", "B"), ("role", "owner")]);
    let asked: [(String, &[(&str, &str)]); 8] = [
        ("/people/tokens".to_owned(), &TILL),
        ("/people".to_owned(), &owner),
        (path(&bo, ""), &same),
        (path(&boss, ""), &helper),
        (path(&boss, "/end"), &[]),
        (path(&bo, "/password"), &other),
        ("/people/sign-out".to_owned(), &[]),
        ("/sign-out".to_owned(), &[("everywhere", "1")]),
    ];
    door.pass(TimeDelta::minutes(11));
    let before = door.store.people(ines.shop).await.unwrap();
    for (path, form) in &asked {
        for own in [&[][..], &[("own_password", "not this one")]] {
            let refused = phone.fills(path, &[form, own].concat()).await;
            let refused = text(refused, StatusCode::UNPROCESSABLE_ENTITY).await;
            assert!(refused.contains("name=\"own_password\""), "{path}: {refused}");
            // Wrong ones are counted: what was counted so far is forgotten for the next.
            door.store.forget_tries_of(&[capful_store::TryKey::person(ines.id)]).await.unwrap();
        }
    }
    assert_eq!(door.store.people(ines.shop).await.unwrap(), before);
    assert!(door.store.tokens(ines.shop).await.unwrap().is_empty());

    // Once it is given it counts for ten minutes.
    let with_own = [&TILL[..], &[("own_password", PASSWORD)]].concat();
    let made = text(phone.fills("/people/tokens", &with_own).await, StatusCode::OK).await;
    assert!(made.contains("value=\"capful_") && !made.contains("own_password"), "{made}");
    door.pass(TimeDelta::minutes(10));
    assert_eq!(led(phone.fills("/people", &owner).await).await, "/people?did=added");
    door.pass(TimeDelta::seconds(1));
    let refused = phone.fills(&path(&bo, "/password"), &other).await;
    text(refused, StatusCode::UNPROCESSABLE_ENTITY).await;
    // A helper is added, changed and ended without it.
    assert_eq!(led(phone.fills(&path(&bo, "/end"), &[]).await).await, "/people?did=ended");
}

#[tokio::test]
async fn a_left_phone_is_no_way_to_try_all_passwords() {
    let (door, _, phone) = ines().await;
    door.pass(TimeDelta::minutes(11));
    for number in 0..6 {
        let form = [&TILL[..], &[("own_password", "a guess")]].concat();
        let refused = phone.fills("/people/tokens", &form).await;
        let refused = text(refused, StatusCode::UNPROCESSABLE_ENTITY).await;
        assert_eq!(refused.contains("Too many wrong passwords"), number == 5, "{refused}");
    }
    // Signing in elsewhere is not held up by it.
    door.stranger("192.0.2.3").signs_in("ines").await;
}

#[tokio::test]
async fn sessions_are_seen_and_ended() {
    let (door, ines, phone) = ines().await;
    let bo = door.adds(ines.shop, "bo", Role::Helper).await;
    let (laptop, of_bo) = (door.stranger("192.0.2.2"), door.stranger("192.0.2.3"));
    laptop.signs_in("ines").await;
    of_bo.signs_in("bo").await;
    let page = phone.sees("/people/me").await;
    assert!(page.contains("Phone · Linux; Gull 14; K"), "{page}");
    assert!(page.contains("last seen 2 Mar 2026 · 192.0.2.2"), "{page}");
    assert_eq!(page.matches("(this one)").count(), 1);
    let sessions = door.store.sessions_of(ines.shop, ines.id, common::monday()).await.unwrap();
    let own = sessions.iter().find(|session| session.address == "192.0.2.2").unwrap().id;
    let of_others = door.store.sessions_of(ines.shop, bo.id, common::monday()).await.unwrap()[0].id;

    // Nobody ends another's: not by the address of one's own, and not without owning the shop.
    let path = format!("/people/me/sessions/{of_others}/end");
    assert_eq!(phone.fills(&path, &[]).await.status(), StatusCode::NOT_FOUND);
    for path in [
        format!("/people/{}/sessions/{own}/end", ines.id),
        format!("/people/{}/sign-out", ines.id),
        "/people/sign-out".to_owned(),
    ] {
        assert_eq!(of_bo.fills(&path, &[]).await.status(), StatusCode::FORBIDDEN, "{path}");
    }
    of_bo.sees("/people/me").await;

    let ended = phone.fills(&format!("/people/me/sessions/{own}/end"), &[]).await;
    assert_eq!(led(ended).await, "/people/me?did=session-ended");
    assert_eq!(laptop.get("/people/me").await.status(), StatusCode::SEE_OTHER);
    let page = phone.sees(&format!("/people/{}", bo.id)).await;
    assert!(page.contains(&format!("/people/{}/sessions/{of_others}/end", bo.id)), "{page}");
    let ended = phone.fills(&format!("/people/{}/sign-out", bo.id), &[]).await;
    assert_eq!(led(ended).await, format!("/people/{}?did=signed-out", bo.id));
    assert_eq!(of_bo.get("/people/me").await.status(), StatusCode::SEE_OTHER);

    of_bo.signs_in("bo").await;
    laptop.signs_in("ines").await;
    let ended = phone.fills("/people/sign-out", &[]).await;
    assert_eq!(led(ended).await, "/people?did=all-signed-out");
    for out in [&of_bo, &laptop] {
        assert_eq!(out.get("/people/me").await.status(), StatusCode::SEE_OTHER);
    }
    phone.sees("/people/me").await;
    assert!(phone.sees("/deeds").await.contains("Everybody was signed out."));
}

#[tokio::test]
async fn when_a_session_was_last_seen_is_told() {
    let (door, ines, phone) = ines().await;
    let laptop = door.stranger("192.0.2.2");
    laptop.signs_in("ines").await;
    door.pass(TimeDelta::days(2));
    phone.sees("/people/me").await;
    // It is written down beside the answer: soon after it.
    let mut page = laptop.sees("/people/me").await;
    for _ in 0..2000 {
        if page.contains("last seen 4 Mar 2026 · 192.0.2.1") {
            break;
        }
        page = laptop.sees("/people/me").await;
    }
    assert!(page.contains("last seen 4 Mar 2026 · 192.0.2.1"), "{page}");
    let sessions = door.store.sessions_of(ines.shop, ines.id, common::monday()).await.unwrap();
    assert_eq!(sessions.len(), 3, "one of the first run too");
}

#[tokio::test]
async fn another_password_signs_the_others_out() {
    let (door, ines, phone) = ines().await;
    let laptop = door.stranger("192.0.2.2");
    laptop.signs_in("ines").await;
    let change = [("old", PASSWORD), ("password", "ten lives of a sponge")];
    led(phone.fills("/people/me", &change).await).await;
    phone.sees("/people/me").await;
    assert_eq!(laptop.get("/people/me").await.status(), StatusCode::SEE_OTHER);
    let sessions = door.store.sessions_of(ines.shop, ines.id, common::monday()).await.unwrap();
    assert_eq!(sessions.len(), 1);
}
