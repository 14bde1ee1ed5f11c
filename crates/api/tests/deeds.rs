//! Who did what is told over HTTP, and undone.

#![allow(clippy::unwrap_used)]

mod common;

use chrono::TimeDelta;
use common::{TestShop, problem};
use reqwest::Method;
use serde_json::{Value, json};

async fn left(shop: &TestShop, product: &str) -> Value {
    let path = format!("/api/v1/products/{product}");
    shop.reader().await.see(&path).await["left"]["amount"].clone()
}

async fn last(shop: &TestShop) -> Value {
    let all = shop.reader().await.see("/api/v1/deeds?limit=50").await;
    // Whoever looks has a token, and the making of it is told of too.
    let mut own = all["items"].as_array().unwrap().iter();
    own.find(|deed| deed["what"] != "token-made").unwrap().clone()
}

#[tokio::test]
async fn who_did_what_is_told_page_by_page() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    let token = &shop.store.tokens(shop.shop).await.unwrap()[0];
    for quantity in [10, 20] {
        let pour = json!({"product": "wash", "quantity": quantity, "unit": "mL"});
        helper.post("/pours", &pour).await;
        shop.pass(TimeDelta::minutes(5));
    }
    let reader = shop.reader().await;
    let whole = reader.see("/api/v1/deeds").await;
    assert_eq!(whole["next"], Value::Null);
    let items = whole["items"].as_array().unwrap();
    let told: Vec<&str> = items.iter().map(|deed| deed["what"].as_str().unwrap()).collect();
    assert_eq!(told, ["token-made", "poured", "poured", "token-made", "imported"]);
    assert_eq!(items[1]["at"], "2026-03-02T12:05:00Z");
    assert_eq!(items[1]["by"], json!({"kind": "token", "id": token.id.to_string()}));
    assert_eq!(items[1]["of"], "wash");
    assert_eq!(items[3]["of"], token.id.to_string());
    assert_eq!(items[4]["by"], json!({"kind": "nobody", "id": null}));
    assert_eq!(items[4]["can_be_undone"], false);

    let first = reader.see("/api/v1/deeds?limit=3").await;
    assert_eq!(first["items"].as_array().unwrap(), &items[..3]);
    let next = first["next"].as_str().unwrap();
    let rest = reader.see(&format!("/api/v1/deeds?limit=3&after={next}")).await;
    assert_eq!(rest["items"].as_array().unwrap(), &items[3..]);
    assert_eq!(rest["next"], Value::Null);
    let wrong = reader.get("/api/v1/deeds?after=yesterday").await;
    assert_eq!(problem(wrong, 400, "bad-query").await["field"], "after");
}

#[tokio::test]
async fn a_finished_job_is_undone_once() {
    let shop = TestShop::open().await;
    let (helper, reader) = (shop.helper().await, shop.reader().await);
    let before = (left(&shop, "wash").await, reader.see("/api/v1/jobs/J-4").await);
    helper.post("/jobs/J-4/finish", &Value::Null).await;
    assert_ne!(left(&shop, "wash").await, before.0);
    let deed = last(&shop).await;
    assert_eq!((&deed["what"], &deed["of"]), (&json!("job-finished"), &json!("J-4")));
    let path = format!("/deeds/{}/undo", deed["id"].as_str().unwrap());

    let refused = reader.change(Method::POST, &path).send().await.unwrap();
    problem(refused, 403, "scope-too-narrow").await;
    let ask = || {
        let post = helper.ask(Method::POST, &format!("/api/v1{path}"));
        post.header("Idempotency-Key", "undo-1").send()
    };
    let first = ask().await.unwrap();
    assert_eq!(first.status(), 201);
    let tag = first.headers()["etag"].clone();
    let first: Value = first.json().await.unwrap();
    let again = ask().await.unwrap();
    assert_eq!(again.headers()["idempotency-replayed"], "true");
    assert_eq!(again.headers()["etag"], tag);
    assert_eq!(again.json::<Value>().await.unwrap(), first);
    assert_eq!(first["ids"][0], "J-4");
    assert!(!first["movements"].as_array().unwrap().is_empty());

    assert_eq!(left(&shop, "wash").await, before.0);
    let job = reader.see("/api/v1/jobs/J-4").await;
    assert_eq!((&job["status"], &job["version"]), (&before.1["status"], &first["version"]));
    assert_eq!(reader.see("/api/v1/check").await["is_well"], true);
    let twice = helper.change(Method::POST, &path).send().await.unwrap();
    let told = problem(twice, 422, "refused").await;
    assert!(told["detail"].as_str().unwrap().contains("already undone"), "{told}");

    // Open again, it is finished again, and takes as much.
    helper.post("/jobs/J-4/finish", &Value::Null).await;
    assert_ne!(left(&shop, "wash").await, before.0);
    reader.see("/api/v1/plan").await;
}

#[tokio::test]
async fn what_is_no_deed_is_not_undone() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    for id in ["yesterday", "0195560d-9c80-7000-8000-000000000000"] {
        let path = format!("/deeds/{id}/undo");
        let missing = helper.change(Method::POST, &path).send().await.unwrap();
        problem(missing, 404, "not-found").await;
    }
    let import = last(&shop).await["id"].as_str().unwrap().to_owned();
    let path = format!("/deeds/{import}/undo");
    let refused = helper.change(Method::POST, &path).send().await.unwrap();
    problem(refused, 422, "refused").await;
}
