//! The same request again, in a shop that has gone on since, and what is kept between requests.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Amount, Facts, Id, JobType, SheetRow, Unit};
use capful_store::{Change, WriteContext};
use chrono::TimeDelta;
use common::{Person, TestShop, monday};
use reqwest::{Method, Response};
use serde_json::{Value, json};

fn files(facts: &Facts) -> Value {
    let files = capful_folder::to_files(facts).into_iter();
    let text = |(name, bytes): (_, Vec<u8>)| {
        (ToString::to_string(&name), json!(String::from_utf8(bytes).unwrap()))
    };
    json!({"files": files.map(text).collect::<serde_json::Map<_, _>>()})
}

/// Asks the same twice and looks for the same answer, said to be a repeat.
async fn is_repeated(first: (u16, String), again: Response) {
    assert_eq!(again.headers()["idempotency-replayed"], "true");
    assert_eq!((again.status().as_u16(), again.text().await.unwrap()), first);
}

async fn read(answer: Response) -> (u16, String) {
    let status = answer.status();
    let text = answer.text().await.unwrap();
    assert!(status.is_success(), "{status}: {text}");
    (status.as_u16(), text)
}

#[tokio::test]
async fn a_folder_that_was_taken_over_before_its_rows_were_changed() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let mut folder = files(&shop.facts);
    let jobs = folder["files"]["jobs.csv"].as_str().unwrap().to_owned();
    let row = jobs.lines().last().unwrap().replace("J-5", "J-6");
    folder["files"]["jobs.csv"] = format!("{jobs}{row}\n").into();
    let first = read(owner.take_over("k-1", &folder).await).await;
    let vehicle = json!({"vehicle": "GULL 606"});
    owner.edit(Method::PATCH, "/jobs/J-6", 1, &vehicle).await;
    is_repeated(first, owner.take_over("k-1", &folder).await).await;
}

#[tokio::test]
async fn what_was_right_when_it_was_done() {
    let shop = TestShop::open().await;
    let (helper, owner) = (shop.helper().await, shop.owner().await);
    let pour = || {
        let pour = helper.ask(Method::POST, "/api/v1/pours").header("Idempotency-Key", "p-1");
        let body = json!({"product": "wash", "quantity": 10, "at": "2026-03-02T07:59"});
        pour.json(&body).send()
    };
    let first = read(pour().await.unwrap()).await;
    // The shop moves west: its clock has not come to that time of the day there.
    let west = json!({"name": "Two Gulls", "timezone": "America/Vancouver", "currency": "CAD"});
    let version = owner.see("/api/v1/shop").await["version"].as_i64().unwrap();
    owner.edit(Method::PUT, "/shop", version, &west).await;
    is_repeated(first, pour().await.unwrap()).await;
}

#[tokio::test]
async fn a_repeat_names_the_version_that_the_first_answer_named() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let ask = |method: Method, path: &str, body: Value| {
        let asked = owner.ask(method, &format!("/api/v1{path}"));
        let asked = asked.header("Idempotency-Key", format!("k{}", path.len()));
        let asked =
            if path.ends_with("finish") { asked } else { asked.header("If-Match", "\"1\"") };
        asked.json(&body).send()
    };
    for (method, path, body) in [
        (Method::PUT, "/suppliers/north-dock", json!({"name": "North", "lead_days": 3})),
        (Method::PATCH, "/jobs/J-4", json!({"condition": 4})),
        (Method::POST, "/jobs/J-4/finish", json!({})),
    ] {
        let first = ask(method.clone(), path, body.clone()).await.unwrap();
        let tag = first.headers()["etag"].clone();
        read(first).await;
        let again = ask(method, path, body).await.unwrap();
        assert_eq!(again.headers()["idempotency-replayed"], "true", "{path}");
        assert_eq!(again.headers()["etag"], tag, "{path}");
    }
}

#[tokio::test]
async fn what_is_answered_is_what_is_stored() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    shop.pass(TimeDelta::nanoseconds(123_456_789));
    let job = json!({"id": "J-20", "planned_on": "2026-03-02", "job_types": ["ceramic"],
        "size": "medium", "condition": 3});
    let booked = owner.post("/jobs", &job).await;
    assert_eq!(booked["booked_at"], "2026-03-02T12:00:00.123456Z");
    assert_eq!(owner.see("/api/v1/jobs/J-20").await["booked_at"], booked["booked_at"]);
    let order = json!({"id": "O-20", "supplier": "north-dock",
        "lines": [{"product": "wash", "packs": 1}]});
    assert_eq!(owner.post("/orders", &order).await["placed_at"], booked["booked_at"]);
    let early = json!({"at": "2026-03-02T12:00:00.123456001Z"});
    let started = owner.post("/jobs/J-20/start", &early).await;
    assert_eq!(started["started_at"], booked["booked_at"]);
}

/// Books a job of one type, finishes it as expected, and gives what went of a product.
async fn taken(person: &Person, id: &str, job_type: &str, product: &str) -> f64 {
    let job = json!({"id": id, "planned_on": "2026-03-02", "job_types": [job_type],
        "size": "medium", "condition": 3});
    person.post("/jobs", &job).await;
    let done = person.post(&format!("/jobs/{id}/finish"), &Value::Null).await;
    let movements = done["movements"].as_array().unwrap().iter();
    let own = movements.filter(|m| m["product"] == product && m["kind"] == "poured");
    -own.map(|m| m["change"]["amount"].as_f64().unwrap()).sum::<f64>()
}

#[tokio::test]
async fn what_another_service_or_an_import_set_up_holds_at_once() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    // The service has read the shop, and keeps what it read.
    assert!(taken(&helper, "J-30", "ceramic", "wash").await > 0.0);
    let rinse = JobType {
        id: Id::parse("rinse").unwrap(),
        name: "Rinse".to_owned(),
        price: None,
        stall_cost: None,
        comes_back: None,
    };
    let sheet = |quantity: u32| SheetRow {
        job_type: rinse.id.clone(),
        product: Id::parse("wash").unwrap(),
        amount: Amount { number: quantity.into(), unit: Unit::Ml },
        ratio: None,
        share_of_jobs: None,
        log_sd: None,
    };
    let set_up = async |rows: Vec<SheetRow>| {
        let change = Change::Service(rinse.clone(), rows);
        let asked = WriteContext::plainly(shop.shop, monday());
        shop.store.change_plainly(&asked, &change).await.unwrap();
    };
    set_up(vec![sheet(30)]).await;
    let first = taken(&helper, "J-31", "rinse", "wash").await;
    assert!((25.0..45.0).contains(&first), "{first}");
    set_up(vec![sheet(300)]).await;
    let second = taken(&helper, "J-32", "rinse", "wash").await;
    assert!((250.0..450.0).contains(&second), "{second}");
    set_up(Vec::new()).await;
    assert_eq!(taken(&helper, "J-33", "rinse", "wash").await, 0.0);
}
