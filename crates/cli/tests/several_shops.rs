//! A database that holds several shops: each command says which one it means.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Currency, Shop};
use capful_store::{By, Change, NewPerson, Role, Store, TryKey, WriteContext};
use common::Place;

/// Works on the database of a place.
fn with_store<T>(place: &Place, work: impl AsyncFnOnce(Store) -> T) -> T {
    let url = format!("sqlite:{}", place.path("capful.db").display());
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async { work(Store::open(&url).await.unwrap()).await })
}

/// The demo shop, and beside it `Low Tide`, with `tess` as its owner.
fn two_shops() -> (Place, String) {
    let place = Place::with_demo();
    let id = with_store(&place, async |store| {
        let now = "2026-03-04T12:00:00Z".parse().unwrap();
        let shop = store.new_uuid(now);
        let currency = Currency::parse("CAD").unwrap();
        let settings = Shop::new("Low Tide", chrono_tz::America::Halifax, currency);
        let change = Change::Shop(Box::new(settings));
        store.change_plainly(&WriteContext::plainly(shop, now), &change).await.unwrap();
        let (sign_in, name, role, password_hash) = ("tess", "Tess", Role::Owner, "hash");
        let new = NewPerson { shop, sign_in, name, role, password_hash };
        store.add_person(&new, now, By::Nobody).await.unwrap();
        shop.to_string()
    });
    (place, id)
}

#[test]
fn a_shop_is_named_by_its_name_or_its_id() {
    let (place, id) = two_shops();
    let commands: [&[&str]; 6] = [
        &["check"],
        &["token", "list"],
        &["token", "create", "--scope", "read"],
        &["person", "list"],
        &["export", "out", "--force"],
        &["import", "out"],
    ];
    for command in commands {
        let refused = place.run(command);
        assert_eq!(refused.code, 1, "{command:?}");
        assert!(
            refused.err[0].contains("holds 2 shops: name one with --shop"),
            "{:?}",
            refused.err
        );
        assert!(refused.err.iter().any(|line| line.contains(&id)), "{:?}", refused.err);
        for named in ["low tide", &id] {
            let done = place.run(&[command, &["--shop", named]].concat());
            assert_eq!(done.code, 0, "{command:?}: {:?}", done.err);
        }
        let unknown = place.run(&[command, &["--shop", "High Tide"]].concat());
        assert_eq!(unknown.code, 1, "{command:?}");
        assert!(unknown.err[0].contains("no shop here is called \"High Tide\""));
    }
    let listed = place.run(&["person", "list", "--shop", "Low Tide"]).out;
    assert!(listed.contains("tess"), "{listed}");
    let exported = std::fs::read_to_string(place.path("out").join("shop.toml")).unwrap();
    assert!(exported.contains("Low Tide"), "{exported}");
    let twice = place.run(&["check", "shop", "--shop", "Low Tide"]);
    assert_eq!(twice.code, 2, "a folder holds one shop");
}

#[test]
fn somebody_is_let_in_again_by_the_machine() {
    let (place, _) = two_shops();
    let now = "2026-03-04T12:00:00Z".parse().unwrap();
    let waits = || {
        with_store(&place, async |store| {
            store.take_try(&[TryKey::name("tess")], now).await.unwrap().is_some()
        })
    };
    for _ in 0..5 {
        assert!(!waits());
    }
    assert!(waits());
    let unlocked = place.run(&["person", "unlock", "Tess"]);
    assert_eq!(unlocked.code, 0, "{:?}", unlocked.err);
    assert!(!waits());
    let code = unlocked.out.split("/sign-in?unlock=").nth(1).unwrap().trim().to_owned();
    let device = with_store(&place, async |store| store.device(&code).await.unwrap());
    assert!(device.is_some());
    let set = place.run_told("nine lives of a towel\n", &["person", "password", "tess"]);
    assert_eq!(set.code, 0, "{:?}", set.err);
    let nobody = place.run(&["person", "unlock", "bo"]);
    assert_eq!(nobody.err, ["error: there is no person `bo`"]);
    let elsewhere = place.run(&["person", "unlock", "tess", "--shop", "Two Gulls Detailing"]);
    assert_eq!(elsewhere.code, 1);
}
