//! The door: who opens the shop, how often somebody may try, and that nobody is locked out.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;

use capful_api::Settings;
use capful_store::{AuditAction, By, NewToken, Role, Scope};
use chrono::TimeDelta;
use common::Person;
use common::door::{Door, PASSWORD};
use reqwest::{Response, StatusCode};

fn to(answer: &Response) -> &str {
    answer.headers()["location"].to_str().unwrap()
}

/// Seconds after which one may come again.
fn after(answer: &Response) -> Option<i64> {
    let after = answer.headers().get("retry-after")?;
    Some(after.to_str().unwrap().parse().unwrap())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_double_tap_opens_one_shop() {
    let door = Door::of_nothing().await;
    let other = Door::over(Arc::clone(&door.store), Settings::default()).await;
    let taps = [&door, &door, &other, &other].map(|door| {
        let (stranger, code) = (door.stranger("192.0.2.1"), door.first_run_code.clone());
        tokio::spawn(async move { to(&stranger.opens(&code).await).to_owned() })
    });
    let mut led = Vec::new();
    for tap in taps {
        led.push(tap.await.unwrap());
    }
    led.sort();
    assert_eq!(led, ["/", "/sign-in", "/sign-in", "/sign-in"]);
    let shops = door.store.shops().await.unwrap();
    assert_eq!((shops.len(), door.store.people(shops[0].0).await.unwrap().len()), (1, 1));
    // Whoever is signed in already is led on from there.
    let ines = door.stranger("192.0.2.1");
    ines.signs_in("ines").await;
    assert_eq!(to(&ines.get("/sign-in").await), "/");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn sixty_guesses_at_once_are_five_looks() {
    let (door, _) = Door::with_ines().await;
    let tries = (0..60).map(|number| {
        let stranger = door.stranger(&format!("192.0.2.{number}"));
        tokio::spawn(async move { stranger.tries("ines", &format!("guess {number}")).await })
    });
    let (mut looks, mut later) = (0, 0);
    for tried in tries.collect::<Vec<_>>() {
        let answer = tried.await.unwrap();
        match answer.status() {
            StatusCode::UNPROCESSABLE_ENTITY => looks += 1,
            StatusCode::TOO_MANY_REQUESTS if after(&answer).is_some() => later += 1,
            status => panic!("{status}: {}", answer.text().await.unwrap()),
        }
    }
    assert_eq!((looks, later), (5, 55));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn four_hundred_strangers_take_no_more_than_two_at_once() {
    let (door, ines) = Door::with_ines().await;
    let tries = (0..400).map(|number| {
        let stranger = door.stranger(&format!("198.51.{}.{}", number / 200, number % 200));
        let name = format!("name-{number}");
        tokio::spawn(async move { stranger.tries(&name, "a guess").await.status().as_u16() })
    });
    for tried in tries.collect::<Vec<_>>() {
        let status = tried.await.unwrap();
        assert!([422, 429].contains(&status), "{status}");
    }
    let (text, scope, label) = ("token", Scope::Read, "probe");
    let new = NewToken { shop: ines.shop, text, scope, label, expires_at: None };
    door.store.add_token(&new, common::monday(), By::Nobody).await.unwrap();
    let metrics = Person::at(&door.base, Some(text)).get("/metrics").await.text().await.unwrap();
    let most = metrics.lines().find_map(|line| line.strip_prefix("capful_passwords_at_once_most "));
    assert_eq!(most, Some("2"), "{metrics}");
}

/// What is answered to one try after the other, with the name left out.
async fn told(door: &Door, name: &str) -> Vec<(u16, Option<i64>, String)> {
    let stranger = door.stranger("203.0.113.9");
    let mut told = Vec::new();
    for _ in 0..7 {
        let answer = stranger.tries(name, "not this one").await;
        let (status, after) = (answer.status().as_u16(), after(&answer));
        told.push((status, after, answer.text().await.unwrap().replace(name, "NAME")));
    }
    told
}

#[tokio::test]
async fn nobody_is_told_which_names_there_are() {
    let (door, _) = Door::with_ines().await;
    let (there, nobody) = (told(&door, "ines").await, told(&door, "nobody").await);
    assert_eq!(there, nobody);
    let kinds: Vec<_> = there.iter().map(|(status, after, _)| (*status, *after)).collect();
    let looked = (422, None);
    assert_eq!(kinds[..5], [looked; 5]);
    assert_eq!(kinds[5..], [(429, Some(31)); 2]);
}

#[tokio::test]
async fn nobody_locks_the_owner_out() {
    let (door, ines) = Door::with_ines().await;
    let phone = door.stranger("192.0.2.1");
    phone.signs_in("ines").await;
    phone.forgets("capful_session");
    let guesses = async || {
        for _ in 0..7 {
            door.stranger("203.0.113.9").tries("ines", "a guess").await;
        }
    };
    guesses().await;
    let laptop = door.stranger("192.0.2.1");
    let late = laptop.tries("ines", PASSWORD).await;
    assert_eq!(late.status(), StatusCode::TOO_MANY_REQUESTS, "a browser that is not known waits");
    phone.signs_in("ines").await;

    // Tries with a known browser are counted too.
    phone.forgets("capful_session");
    for _ in 0..10 {
        let wrong = phone.tries("ines", "a guess").await;
        assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY);
    }
    assert_eq!(phone.tries("ines", PASSWORD).await.status(), StatusCode::TOO_MANY_REQUESTS);

    // Whoever runs the service lets her in, however many go on guessing.
    door.store.unlock_person(ines.shop, ines.id, common::monday(), By::Nobody).await.unwrap();
    door.store.add_device(ines.shop, ines.id, "code", common::monday()).await.unwrap();
    guesses().await;
    laptop.sees("/sign-in?unlock=other").await;
    assert_eq!(laptop.tries("ines", PASSWORD).await.status(), StatusCode::TOO_MANY_REQUESTS);
    laptop.sees("/sign-in?unlock=code").await;
    laptop.signs_in("ines").await;
}

#[tokio::test]
async fn people_who_share_a_browser_are_all_known_in_it() {
    let (door, ines) = Door::with_ines().await;
    door.adds(ines.shop, "bo", Role::Helper).await;
    let tablet = door.stranger("192.0.2.1");
    for name in ["ines", "bo"] {
        tablet.signs_in(name).await;
        tablet.forgets("capful_session");
    }
    for name in ["ines", "bo"] {
        for _ in 0..6 {
            door.stranger("203.0.113.9").tries(name, "a guess").await;
        }
        tablet.signs_in(name).await;
        tablet.forgets("capful_session");
    }
}

#[tokio::test]
async fn tries_are_counted_by_address() {
    let (door, _) = Door::with_ines().await;
    let site = door.stranger("203.0.113.9");
    for number in 0..21 {
        let wrong = site.tries(&format!("name-{number}"), "a guess").await;
        assert_eq!(wrong.status(), StatusCode::UNPROCESSABLE_ENTITY, "{number}");
    }
    let waits = site.tries("another", "a guess").await;
    assert_eq!((waits.status().as_u16(), after(&waits)), (429, Some(31)));
    let elsewhere = door.stranger("203.0.113.10").tries("another", "a guess").await;
    assert_eq!(elsewhere.status(), StatusCode::UNPROCESSABLE_ENTITY);
    door.pass(TimeDelta::seconds(30));
    let again = site.tries("another", "a guess").await;
    assert_eq!(again.status(), StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn nobody_makes_an_address_up() {
    let (door, _) = Door::with_ines().await;
    // The same store behind a service that trusts no proxy.
    let bare = Door::over(Arc::clone(&door.store), Settings::default()).await;
    let mut answers = Vec::new();
    for number in 0..22 {
        let stranger = bare.stranger(&format!("203.0.113.{number}"));
        answers.push(stranger.tries(&format!("name-{number}"), "a guess").await.status().as_u16());
    }
    assert_eq!(answers, [&[422; 21][..], &[429]].concat());
}

#[tokio::test]
async fn nobody_is_led_off_the_site() {
    let (door, _) = Door::with_ines().await;
    for (then, led) in [
        ("/shelf?x=1", "/shelf?x=1"),
        ("/\t/other.example", "/"),
        ("/\n", "/"),
        ("/\r\nx: y", "/"),
        ("/\u{7f}\u{e9}", "/"),
        ("//other.example", "/"),
    ] {
        let ines = door.stranger("192.0.2.1");
        let form = [("sign_in", "ines"), ("password", PASSWORD), ("then", then)];
        let answer = ines.posts("/sign-in", &form).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{then:?}");
        assert_eq!(to(&answer), led, "{then:?}");
        ines.sees("/people/me").await;
    }
}

#[tokio::test]
async fn a_wrong_sign_in_is_told_with_its_address() {
    let (door, ines) = Door::with_ines().await;
    let bo = door.adds(ines.shop, "bo", Role::Helper).await;
    for name in ["bo", "bo", "nobody"] {
        door.stranger("203.0.113.9").tries(name, "a guess").await;
    }
    let owner = door.stranger("192.0.2.1");
    owner.signs_in("ines").await;
    let list = owner.sees("/deeds").await;
    assert!(list.contains("Wrong password for bo, 2 times. From 203.0.113.9."), "{list}");
    assert!(list.contains("a name that nobody has. From 203.0.113.9."), "{list}");
    let helper = door.stranger("192.0.2.1");
    helper.signs_in("bo").await;
    let list = helper.sees("/deeds").await;
    assert!(list.contains("Wrong password for bo, 2 times."), "{list}");
    assert!(!list.contains("203.0.113.9"), "from where is the owner's to see: {list}");

    for (scope, address) in [(Scope::Setup, Some("203.0.113.9")), (Scope::Read, None)] {
        let (text, label) = (scope.word(), "probe");
        let new = NewToken { shop: ines.shop, text, scope, label, expires_at: None };
        door.store.add_token(&new, common::monday(), By::Nobody).await.unwrap();
        let deeds = Person::at(&door.base, Some(text)).see("/api/v1/deeds").await;
        let deeds = deeds["items"].as_array().unwrap();
        let told = deeds.iter().find(|deed| {
            deed["of"] == bo.id.to_string() && deed["what"] == AuditAction::SignInWrong.word()
        });
        let told = told.unwrap();
        assert_eq!((&told["times"], &told["address"]), (&2.into(), &address.into()));
    }
}
