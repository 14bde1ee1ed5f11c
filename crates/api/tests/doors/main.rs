//! The doors of the service: who may pass where, by the table in `doors.txt`, and that nobody gets
//! through any of them to another shop.

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../common/mod.rs"]
mod common;

mod callers;
mod requests;
mod shops;
mod table;

use std::collections::BTreeSet;

use requests::request;
use shops::{MARK, Shops, everything_of, this_shop};
use table::{Other, Pass, Row, Who, rows};

#[test]
fn every_route_has_a_line_and_every_line_a_route() {
    let routes = capful_api::route_list();
    let routes: Vec<String> = routes.iter().map(|r| format!("{} {}", r.method, r.path)).collect();
    let lines: Vec<String> = rows().iter().map(Row::name).collect();
    let once = |names: &[String]| names.iter().cloned().collect::<BTreeSet<_>>();
    assert_eq!(once(&routes).len(), routes.len(), "a route is listed twice");
    assert_eq!(once(&lines).len(), lines.len(), "a line stands twice in doors.txt");
    let without: Vec<_> = once(&routes).difference(&once(&lines)).cloned().collect();
    assert!(without.is_empty(), "routes without a line in doors.txt: {without:#?}");
    let over: Vec<_> = once(&lines).difference(&once(&routes)).cloned().collect();
    assert!(over.is_empty(), "lines of doors.txt without a route: {over:#?}");
}

/// What a router prints of itself names every path that it matches: none is outside the list.
#[tokio::test]
async fn the_list_has_every_address_of_the_router() {
    let shop = common::TestShop::open().await;
    let api = capful_api::Api::new(
        shop.store.clone(),
        std::sync::Arc::new(common::monday),
        capful_api::Settings::default(),
    );
    let printed = format!("{:?}", capful_api::router(api));
    let paths = printed.split('"').skip(1).step_by(2).filter(|text| text.starts_with('/'));
    // Each router that was merged has a fallback of its own at an address that nobody asks for.
    let paths: BTreeSet<&str> = paths.filter(|path| !path.contains("__private__")).collect();
    let routes = capful_api::route_list();
    let listed: BTreeSet<&str> = routes.iter().map(|route| route.path.as_str()).collect();
    assert!(listed.len() > 100, "{listed:?}");
    assert_eq!(paths, listed);
}

#[tokio::test]
async fn who_may_pass() {
    let shops = Shops::open().await;
    let mut wrong = Vec::new();
    // What is looked at comes first: it is not there any more once everybody has sent something.
    let (looked, sent): (Vec<_>, Vec<_>) = rows().into_iter().partition(Row::looks);
    for row in looked.into_iter().chain(sent) {
        let tried = request(&row);
        for who in Who::ALL {
            let caller = shops.here(who).await;
            let answer = caller.asks(&row, &shops.address(&row), &tried).await;
            let expected = row.may.of(who);
            if !answer.is(expected, &row) {
                wrong.push(format!("{} as {who:?}: {answer:?}, not {expected:?}", row.name()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Those of another shop who may do as much there.
const STRONGEST: [Who; 5] = [Who::Read, Who::Shelf, Who::Setup, Who::Helper, Who::Owner];

#[tokio::test]
async fn nothing_of_this_shop_is_told_to_another() {
    let shops = Shops::open().await;
    let (mut wrong, mut told) = (Vec::new(), 0);
    for row in rows().into_iter().filter(Row::looks) {
        let (tried, address) = (request(&row), shops.address(&row));
        let own = shops.here(Who::Setup).await.asks(&row, &address, &tried).await;
        let seen = shops.here(Who::Owner).await.asks(&row, &address, &tried).await;
        told += usize::from(own.tells(MARK) || seen.tells(MARK));
        for who in STRONGEST.into_iter().filter(|who| row.may.of(*who) == Pass::Yes) {
            let answer = shops.there(who).await.asks(&row, &address, &tried).await;
            if answer.tells(MARK) {
                wrong.push(format!("{} tells {who:?} of this shop", row.name()));
            }
            if !answer.is_other(row.other) {
                wrong.push(format!("{} as {who:?}: {answer:?}, not {:?}", row.name(), row.other));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(told >= 50, "the marks are seen at {told} addresses only: nothing is proved");
}

/// Lists that are narrowed by a row of this shop.
const NARROWED: [&str; 8] = [
    "/api/v1/containers?product=coating",
    "/api/v1/movements?product=coating",
    "/api/v1/movements?container=R-2/1",
    "/api/v1/movements?job=J-2",
    "/api/v1/jobs?from=2026-01-01&status=done",
    "/api/v1/deeds?limit=500",
    "/api/v1/folder?as_of=2026-03-01",
    "/api/v1/plan?as_of=2026-03-01",
];

#[tokio::test]
async fn lists_are_narrowed_within_the_callers_own_shop() {
    let shops = Shops::open().await;
    let token = shops.there(Who::Setup).await;
    for path in NARROWED {
        let answer = token.looks_at(path).await;
        assert!(!answer.tells(MARK), "{path}");
        assert!(answer.status < 500 && answer.status != 401, "{path}: {answer:?}");
    }
    // What both have under one id is each one's own.
    let theirs = token.looks_at("/api/v1/products/wash").await;
    assert!(theirs.status == 200 && theirs.tells("Their own soap"), "{theirs:?}");
    assert!(shops.here(Who::Read).await.looks_at("/api/v1/products/wash").await.tells(MARK));
}

#[tokio::test]
async fn nothing_of_this_shop_is_changed_by_another() {
    let shops = Shops::open().await;
    let before = everything_of(&shops.store(), shops.here.shop).await;
    let mut wrong = Vec::new();
    for row in rows().into_iter().filter(|row| !row.looks() && row.other != Other::Nobodys) {
        let (tried, address) = (request(&row), shops.address(&row));
        for who in STRONGEST.into_iter().filter(|who| row.may.of(*who) == Pass::Yes) {
            let answer = shops.there(who).await.asks(&row, &address, &tried).await;
            if answer.tells(MARK) {
                wrong.push(format!("{} tells {who:?} of this shop", row.name()));
            }
            if !answer.is_other(row.other) {
                wrong.push(format!("{} as {who:?}: {answer:?}, not {:?}", row.name(), row.other));
            }
            let after = everything_of(&shops.store(), shops.here.shop).await;
            assert_eq!(before, after, "{} as {who:?} changed this shop", row.name());
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// What the tests before send is right in the shop that it is made for: so it was the door that
/// another shop's caller met, and no slip in what they sent.
#[tokio::test]
async fn what_is_tried_is_what_the_shops_own_people_and_programs_do() {
    let mut wrong = Vec::new();
    // It names a session of somebody else's, which nobody ends in this way in their own shop.
    let is_tried = |row: &Row| row.name() != "POST /people/me/sessions/{session}/end";
    let changing = rows().into_iter().filter(|row| !row.looks() && row.other != Other::Nobodys);
    for row in changing.filter(is_tried) {
        let shops = Shops::of(this_shop().await).await;
        let who = if row.is_for_programs() { Who::Setup } else { Who::Owner };
        let caller = shops.here(who).await;
        let before = everything_of(&shops.store(), shops.here.shop).await;
        let answer = caller.asks(&row, &shops.address(&row), &request(&row)).await;
        if answer.status >= 400 {
            wrong.push(format!("{}: {answer:?}", row.name()));
        }
        let after = everything_of(&shops.store(), shops.here.shop).await;
        let changes_nothing = ["POST /sign-out", "POST /backtest"].contains(&row.name().as_str());
        if !changes_nothing && before == after {
            wrong.push(format!("{} changes nothing", row.name()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
