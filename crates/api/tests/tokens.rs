//! Who may ask for what.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::{By, Scope};
use chrono::TimeDelta;
use common::{TestShop, problem};
use reqwest::{Method, StatusCode};
use serde_json::json;

const LOOKING: [&str; 22] = [
    "/api/v1/plan",
    "/api/v1/weekly-order",
    "/api/v1/readiness",
    "/api/v1/going-off",
    "/api/v1/usage",
    "/api/v1/jobs",
    "/api/v1/jobs/J-1",
    "/api/v1/products",
    "/api/v1/products/coating",
    "/api/v1/containers",
    "/api/v1/movements",
    "/api/v1/orders",
    "/api/v1/costs",
    "/api/v1/costs/jobs/J-2",
    "/api/v1/costs/job-types",
    "/api/v1/costs/waste",
    "/api/v1/trace/lots/B2231",
    "/api/v1/trace/jobs/J-2",
    "/api/v1/shop",
    "/api/v1/check",
    "/api/v1/folder",
    "/metrics",
];

#[tokio::test]
async fn nothing_but_health_answers_a_stranger() {
    let shop = TestShop::open().await;
    let stranger = shop.stranger();
    for path in LOOKING.into_iter().chain(["/api/docs", "/api/docs/", "/api/v1/openapi.json"]) {
        let answer = stranger.get(path).await;
        let how = answer.headers()["www-authenticate"].to_str().unwrap().to_owned();
        assert!(how.starts_with("Bearer"), "{path}: {how}");
        problem(answer, 401, "no-token").await;
    }
    assert_eq!(stranger.get("/healthz").await.status(), StatusCode::OK);
    assert_eq!(stranger.get("/readyz").await.text().await.unwrap(), "ready\n");
}

#[tokio::test]
async fn any_token_may_look() {
    let shop = TestShop::open().await;
    for person in [shop.reader().await, shop.helper().await, shop.owner().await] {
        for path in LOOKING {
            let answer = person.get(path).await;
            let status = answer.status();
            assert_eq!(status, StatusCode::OK, "{path}: {}", answer.text().await.unwrap());
        }
    }
}

#[tokio::test]
async fn only_the_owner_sets_up() {
    let shop = TestShop::open().await;
    for person in [shop.reader().await, shop.helper().await] {
        let answer = person.take_over("k", &json!({"files": {}})).await;
        let body = problem(answer, 403, "scope-too-narrow").await;
        assert!(body["detail"].as_str().unwrap().contains("`setup`"), "{body}");
    }
    // The owner's is looked at; what it says is another matter.
    let answer = shop.owner().await.take_over("k", &json!({"files": {}})).await;
    problem(answer, 422, "bad-body").await;
}

#[tokio::test]
async fn a_token_that_is_made_up_ended_or_revoked_is_none() {
    let shop = TestShop::open().await;
    problem(shop.person(Some("let-me-in")).get("/api/v1/plan").await, 401, "no-token").await;
    let short = shop.with_token("short", Scope::Read, Some(TimeDelta::hours(1))).await;
    assert_eq!(short.get("/api/v1/shop").await.status(), StatusCode::OK);
    shop.pass(TimeDelta::hours(1));
    problem(short.get("/api/v1/shop").await, 401, "no-token").await;

    let helper = shop.helper().await;
    let token = shop.store.tokens(shop.shop).await.unwrap().pop().unwrap();
    assert_eq!(helper.get("/api/v1/shop").await.status(), StatusCode::OK);
    shop.store.revoke_token(shop.shop, token.id, common::monday(), By::Nobody).await.unwrap();
    problem(helper.get("/api/v1/shop").await, 401, "no-token").await;
}

#[tokio::test]
async fn other_forms_of_credentials_are_none() {
    let shop = TestShop::open().await;
    for form in ["", "Bearer", "Bearer ", "Token abc", "Basic abc", "Basic OmE="] {
        let asked = shop.stranger().ask(Method::GET, "/api/v1/shop").header("authorization", form);
        problem(asked.send().await.unwrap(), 401, "no-token").await;
    }
    // A browser's form opens the documentation and nothing else.
    let reader = shop.reader().await;
    let answer = reader.in_a_browser("/api/v1/shop").send().await.unwrap();
    problem(answer, 401, "no-token").await;
}

#[tokio::test]
async fn what_nobody_is_answered_is_not_forbidden() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    for (method, path) in [
        (Method::DELETE, "/api/v1/products/wash"),
        (Method::PUT, "/api/v1/pours"),
        (Method::GET, "/api/v1/jobs/J-1/finish"),
        (Method::PATCH, "/api/v1/folder"),
    ] {
        let answer = reader.ask(method, path).send().await.unwrap();
        problem(answer, 405, "method-not-allowed").await;
    }
    let answer = reader.ask(Method::PUT, "/api/v1/products/wash").send().await.unwrap();
    problem(answer, 403, "scope-too-narrow").await;
    let answer = shop.stranger().ask(Method::PUT, "/api/v1/pours").send().await.unwrap();
    problem(answer, 401, "no-token").await;
}
