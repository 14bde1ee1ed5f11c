//! Whatever is asked the wrong way is answered with a problem that says what would be right.

#![allow(clippy::unwrap_used)]

mod common;

use std::time::Duration;

use capful_api::Settings;
use common::{Person, TestShop, problem, two_gulls};
use reqwest::Method;
use serde_json::{Value, json};

async fn refused(person: &Person, path: &str, status: u16, kind: &str) -> Value {
    problem(person.get(path).await, status, kind).await
}

#[tokio::test]
async fn what_is_not_there() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let body = refused(&reader, "/api/v1/nothing", 404, "not-found").await;
    assert!(body["detail"].as_str().unwrap().contains("/api/docs"), "{body}");
    refused(&reader, "/nothing", 404, "not-found").await;
    // Pages are for people.
    refused(&reader, "/", 401, "no-token").await;
    for path in [
        "/api/v1/products/wax",
        "/api/v1/jobs/J-99",
        "/api/v1/costs/jobs/J-99",
        "/api/v1/trace/jobs/J-99",
        "/api/v1/trace/lots/B0000",
        "/api/v1/products/iron%20remover",
        "/api/v1/jobs/%FF",
    ] {
        refused(&reader, path, 404, "not-found").await;
    }
    // Booked on 20 January: nobody knew of it before.
    refused(&reader, "/api/v1/jobs/J-1?as_of=2026-01-19", 404, "not-found").await;
}

#[tokio::test]
async fn a_method_that_an_address_does_not_take() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    for (method, path) in [
        (Method::DELETE, "/api/v1/plan"),
        (Method::POST, "/api/v1/plan"),
        (Method::PATCH, "/api/v1/folder"),
        (Method::POST, "/healthz"),
    ] {
        let answer = owner.ask(method.clone(), path).send().await.unwrap();
        let allowed = answer.headers()["allow"].to_str().unwrap().to_owned();
        assert!(allowed.contains("GET"), "{method} {path}: {allowed}");
        problem(answer, 405, "method-not-allowed").await;
    }
}

#[tokio::test]
async fn a_query_that_cannot_be_read() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    for (path, field, right) in [
        ("/api/v1/plan?as_of=monday", "as_of", "a day such as 2026-03-02"),
        ("/api/v1/plan?as_of=2026-02-30", "as_of", "a day such as"),
        ("/api/v1/plan?seed=-1", "seed", "a whole number"),
        ("/api/v1/plan?asof=2026-03-02", "asof", "`as_of`"),
        ("/api/v1/weekly-order?limit=3", "limit", "`seed`"),
        ("/api/v1/going-off?seed=x", "seed", "a whole number"),
        ("/api/v1/jobs?limit=0", "limit", "from 1 to 500"),
        ("/api/v1/jobs?limit=501", "limit", "from 1 to 500"),
        ("/api/v1/jobs?limit=%2B1", "limit", "from 1 to 500"),
        ("/api/v1/jobs?from=2026-2-9", "from", "a day such as"),
        ("/api/v1/jobs?to=%202026-02-09", "to", "a day such as"),
        ("/api/v1/jobs?after=01890a5dac96774bbcceb302099a8057", "after", "page before gave"),
        ("/api/v1/plan?seed=%2B1", "seed", "a whole number from 0"),
        ("/api/v1/plan?as_of=2026-3-2", "as_of", "a day such as"),
        ("/api/v1/plan?as_of=262142-12-31", "as_of", "a day such as"),
        ("/api/v1/jobs?after=yesterday", "after", "`next`"),
        ("/api/v1/jobs?status=late", "status", "booked, started, done, cancelled"),
        ("/api/v1/jobs?from=soon", "from", ""),
        ("/api/v1/containers?after=R-9/1", "after", "`next`"),
        ("/api/v1/containers?live=maybe", "live", "`yes` or `no`"),
        ("/api/v1/containers?product=wax", "product", "no product"),
        ("/api/v1/movements?container=R-1/0", "container", "R-0412/1"),
        ("/api/v1/movements?job=a%20b", "job", "letters"),
        ("/api/v1/orders?status=lost", "status", "placed, received, cancelled"),
        ("/api/v1/shop?as_of=never", "as_of", "a day such as"),
    ] {
        let body = refused(&reader, path, 400, "bad-query").await;
        assert_eq!(body["field"], field, "{path}: {body}");
        assert!(body["detail"].as_str().unwrap().contains(right), "{path}: {body}");
    }
}

#[tokio::test]
async fn a_body_that_cannot_be_read() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let post = |key: &str| {
        owner.ask(Method::POST, "/api/v1/folder").header("Idempotency-Key", key.to_owned())
    };
    let json = |key: &str, text: &'static str| {
        post(key).header("content-type", "application/json").body(text).send()
    };
    problem(json("a", "{").await.unwrap(), 400, "bad-json").await;
    problem(json("b", "{} {}").await.unwrap(), 422, "bad-body").await;
    problem(json("c", "").await.unwrap(), 422, "bad-body").await;
    let body = problem(json("d", r#"{"file": {}}"#).await.unwrap(), 422, "bad-body").await;
    assert!(body["detail"].as_str().unwrap().contains("`files`"), "{body}");
    let body = problem(json("e", r#"{"files": {"shop.toml": 3}}"#).await.unwrap(), 422, "bad-body");
    assert_eq!(body.await["field"], "files.shop.toml");
    let text = post("f").header("content-type", "text/plain").body("{}").send().await.unwrap();
    problem(text, 415, "not-json").await;
    let bare = post("g").body("{}").send().await.unwrap();
    problem(bare, 415, "not-json").await;
    assert!(shop.store.facts(shop.shop, None).await.unwrap() == shop.facts);
}

#[tokio::test]
async fn rows_of_a_folder_that_are_wrong_are_all_told() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let files = json!({"files": {
        "shop.toml": "name = \"Two Gulls\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n",
        "products.csv": "id,name,unit,container_size\nwax,Wax,mL,\nclay,Clay,stone,100\n",
    }});
    let body = problem(owner.take_over("k", &files).await, 422, "bad-body").await;
    let errors = body["errors"].as_array().unwrap();
    assert_eq!(errors.len(), 2, "{body}");
    assert_eq!(errors[1]["field"], "products.csv:3:unit");
    assert!(errors[1]["detail"].as_str().unwrap().contains("found \"stone\""), "{body}");
    // The same id with other content.
    let mut other = shop_files(&shop);
    let jobs = other["files"]["jobs.csv"].as_str().unwrap().replace("GULL 404", "GULL 405");
    other["files"]["jobs.csv"] = jobs.into();
    let body = problem(owner.take_over("l", &other).await, 422, "bad-body").await;
    assert_eq!(body["errors"].as_array().unwrap().len(), 1, "{body}");
    assert!(shop.store.facts(shop.shop, None).await.unwrap() == shop.facts);
}

#[tokio::test]
async fn of_a_folder_with_thousands_of_wrong_rows_the_first_are_told() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let mut files = shop_files(&shop);
    let rows: String = (0..5000).map(|n| format!("X-{n},2026-03-02,nothing,1,mL\n")).collect();
    files["files"]["pours.csv"] = format!("id,at,product,quantity,unit\n{rows}").into();
    let body = problem(owner.take_over("k", &files).await, 422, "bad-body").await;
    let errors = body["errors"].as_array().unwrap();
    assert_eq!(errors.len(), 200);
    assert_eq!(
        (&errors[0]["field"], &errors[199]["field"]),
        (&"pours.csv:2:product".into(), &"pours.csv:201:product".into())
    );
    let detail = "5000 rows of the folder are not as they should be; the first 200 are listed";
    assert_eq!(body["detail"], detail);
    assert!(shop.store.facts(shop.shop, None).await.unwrap() == shop.facts);
}

fn shop_files(shop: &TestShop) -> Value {
    let files = capful_folder::to_files(&shop.facts).into_iter();
    let text = |(name, bytes): (_, Vec<u8>)| {
        (ToString::to_string(&name), json!(String::from_utf8(bytes).unwrap()))
    };
    json!({"files": files.map(text).collect::<serde_json::Map<_, _>>()})
}

#[tokio::test]
async fn a_body_that_is_too_large() {
    let settings = Settings { import_limit: 4096, ..Settings::default() };
    let shop = TestShop::open_with(two_gulls(), settings).await;
    let owner = shop.owner().await;
    let large = json!({"files": {"shop.toml": "x".repeat(5000)}});
    let body = problem(owner.take_over("k", &large).await, 413, "body-too-large").await;
    assert!(body["detail"].as_str().unwrap().contains("MiB"), "{body}");
}

#[tokio::test]
async fn the_same_request_twice_is_done_once() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let mut files = shop_files(&shop);
    let jobs = files["files"]["jobs.csv"].as_str().unwrap().to_owned();
    let one_more = format!("{jobs}{}\n", jobs.lines().last().unwrap().replace("J-5", "J-6"));
    files["files"]["jobs.csv"] = one_more.into();
    let first = owner.take_over("k-1", &files).await;
    assert_eq!(first.headers().get("idempotency-replayed"), None);
    let (status, first) = (first.status(), first.text().await.unwrap());
    assert!(first.contains("jobs.csv"), "{first}");
    let again = owner.take_over("k-1", &files).await;
    assert_eq!(again.headers()["idempotency-replayed"], "true");
    assert_eq!((again.status(), again.text().await.unwrap()), (status, first));
    assert_eq!(shop.store.facts(shop.shop, None).await.unwrap().jobs.len(), 6);

    problem(owner.take_over("k-1", &shop_files(&shop)).await, 422, "key-used").await;
    problem(owner.take_over("", &files).await, 400, "no-key").await;
    problem(owner.take_over("two words", &files).await, 400, "no-key").await;
    problem(owner.take_over(&"k".repeat(201), &files).await, 400, "no-key").await;
    let bare = owner.ask(Method::POST, "/api/v1/folder").json(&files).send().await.unwrap();
    problem(bare, 400, "no-key").await;
}

#[tokio::test]
async fn a_request_that_takes_too_long() {
    let settings = Settings { time_limit: Duration::from_nanos(1), ..Settings::default() };
    let shop = TestShop::open_with(two_gulls(), settings).await;
    let reader = shop.reader().await;
    refused(&reader, "/api/v1/plan", 503, "timed-out").await;
}

#[tokio::test]
async fn a_version_that_is_none() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    for (name, value) in [("If-Match", "3"), ("If-Match", "*"), ("If-None-Match", "\"3\"")] {
        let post = owner.ask(Method::POST, "/api/v1/folder").header("Idempotency-Key", "k");
        let answer = post.header(name, value).json(&shop_files(&shop)).send().await.unwrap();
        problem(answer, 400, "bad-request").await;
    }
}

#[tokio::test]
async fn a_panic_is_told_by_its_request_only() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    // The first reading of the clock is the request's own, the second the token's.
    shop.panic_at_reading(2);
    let body = refused(&reader, "/api/v1/shop", 500, "internal").await;
    assert!(!body.to_string().contains("clock"), "{body}");
    reader.see("/api/v1/shop").await;
}

#[tokio::test]
async fn a_database_that_fails_is_not_shown() {
    let (base, _directory) = common::without_tables().await;
    let person = common::Person::at(&base, Some("any"));
    let body = refused(&person, "/api/v1/shop", 500, "internal").await;
    assert!(!body.to_string().contains("table"), "{body}");
    let body = refused(&person, "/readyz", 503, "not-ready").await;
    assert!(body["detail"].as_str().unwrap().contains("tables"), "{body}");
    assert_eq!(person.get("/healthz").await.text().await.unwrap(), "alive\n");
}
