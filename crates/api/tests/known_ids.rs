//! An id that was used before is a conflict (409) for whoever sends it, again and again, whatever
//! the row was of; nobody is told to wait for a database that is busy.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Person, TestShop, problem};
use reqwest::Method;
use serde_json::{Value, json};

/// Writes down, and again with another product, twice: the second has a key of its own each time.
async fn is_used_once(helper: &Person, path: &str, id: &str, first: &Value, other: &Value) {
    helper.post(path, first).await;
    for again in [other, first, other] {
        let asked = helper.change(Method::POST, path).json(again);
        let told = problem(asked.send().await.unwrap(), 409, "conflict").await;
        let detail = told["detail"].as_str().unwrap();
        assert!(detail.contains(&format!("`{id}` is there already")), "{path}: {detail}");
    }
}

#[tokio::test]
async fn an_id_is_used_once_by_each_kind_of_row() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    let of = |product: &str, more: Value| {
        let mut row = json!({"id": "X-1", "product": product});
        row.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        row
    };
    let mixed = || json!({"quantity": 100, "water": 4});
    let poured = || json!({"quantity": 5});
    let came = || json!({"containers": 1, "unit_cost": "9.00"});
    let rows = [
        ("/mixes", of("wash", mixed()), of("iron-remover", mixed())),
        ("/pours", of("wash", poured()), of("iron-remover", poured())),
        ("/receipts", of("wash", came()), of("iron-remover", came())),
        ("/openings", of("wash", json!({})), of("iron-remover", json!({}))),
        ("/counts", of("wash", poured()), of("iron-remover", poured())),
        ("/discards", of("wash", poured()), of("iron-remover", poured())),
    ];
    for (path, first, other) in rows {
        is_used_once(&helper, path, "X-1", &first, &other).await;
    }
    assert_eq!(helper.see("/api/v1/check").await["is_well"], true);
}

#[tokio::test]
async fn the_id_of_a_mix_that_was_reversed_or_used_up_stays_its_own() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    let mix = |id: &str, of: &str| json!({"id": id, "product": of, "quantity": 100, "water": 4});
    helper.post("/mixes", &mix("M-1", "wash")).await;
    helper.post("/mixes", &mix("M-2", "wash")).await;
    let all = json!({"product": "wash", "quantity": 100, "container": "M-1"});
    helper.post("/pours", &all).await;
    let done = helper.see("/api/v1/deeds").await;
    let deed = done["items"].as_array().unwrap().iter().find(|deed| deed["what"] == "mixed");
    let undo = format!("/deeds/{}/undo", deed.unwrap()["id"].as_str().unwrap());
    helper.post(&undo, &Value::Null).await;
    for id in ["M-1", "M-2"] {
        for product in ["wash", "iron-remover"] {
            let again = helper.change(Method::POST, "/mixes").json(&mix(id, product));
            problem(again.send().await.unwrap(), 409, "conflict").await;
        }
    }
}
