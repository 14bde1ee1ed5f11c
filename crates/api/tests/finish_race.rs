//! Many who change and finish one job at once: whoever names no version is never told that the job
//! was changed since.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};

use common::{Person, TestShop};
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

/// Those who change the job for as long as it is open, and those who finish it.
const CHANGERS: usize = 8;
const FINISHERS: usize = 4;

/// Jobs that are finished so, one after the other.
const JOBS: usize = 6;

/// Changes a job again and again, each time at the version that was read, until it is over.
async fn changes(who: Person, job: String, is_over: Arc<AtomicBool>) {
    while !is_over.load(SeqCst) {
        let seen = who.see(&format!("/api/v1/jobs/{job}")).await;
        let version = format!("\"{}\"", seen["version"]);
        let change = who.change(Method::PATCH, &format!("/jobs/{job}"));
        let change = change.header("If-Match", version).json(&json!({ "vehicle": "red van" }));
        let status = change.send().await.unwrap().status();
        let is_expected = [
            StatusCode::OK,
            StatusCode::PRECONDITION_FAILED,
            StatusCode::UNPROCESSABLE_ENTITY,
            StatusCode::SERVICE_UNAVAILABLE,
        ];
        assert!(is_expected.contains(&status), "a change: {status}");
    }
}

/// Finishes a job without naming a version, asking again with the same key where that is asked for.
async fn finishes(who: Person, job: String) -> StatusCode {
    let key = uuid::Uuid::now_v7().to_string();
    loop {
        let finish = who.ask(Method::POST, &format!("/api/v1/jobs/{job}/finish"));
        let answer = finish.header("Idempotency-Key", &key).send().await.unwrap();
        let status = answer.status();
        if status != StatusCode::SERVICE_UNAVAILABLE && status != StatusCode::CONFLICT {
            return status;
        }
        assert_eq!(answer.headers()["retry-after"], "1");
    }
}

async fn a_finish_is_never_told_of_a_version(shop: TestShop) {
    let who = shop.owner().await;
    let template = json!({
        "planned_on": "2026-03-02", "job_types": [shop.facts.job_types[0].id.as_str()],
        "size": "medium", "condition": 3,
    });
    for _ in 0..JOBS {
        let booked: Value = who.post("/jobs", &template).await;
        let job = booked["id"].as_str().unwrap().to_owned();
        let is_over = Arc::new(AtomicBool::new(false));
        let changing: Vec<_> = (0..CHANGERS)
            .map(|_| tokio::spawn(changes(who.clone(), job.clone(), Arc::clone(&is_over))))
            .collect();
        let finishing: Vec<_> =
            (0..FINISHERS).map(|_| tokio::spawn(finishes(who.clone(), job.clone()))).collect();
        let mut told = Vec::new();
        for finish in finishing {
            told.push(finish.await.unwrap().as_u16());
        }
        is_over.store(true, SeqCst);
        for change in changing {
            change.await.unwrap();
        }
        told.sort_unstable();
        // One of them finished it; to the others it is done already.
        assert_eq!(told, [200, 422, 422, 422]);
        let movements = who.see(&format!("/api/v1/trace/jobs/{job}")).await;
        assert_eq!(movements["job"], json!(job), "{movements}");
    }
    let checked = shop.store.check(shop.shop).await.unwrap();
    assert!(checked.wrong.is_empty(), "{checked:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn on_sqlite() {
    a_finish_is_never_told_of_a_version(TestShop::open().await).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn on_postgres() {
    if let Some(shop) = TestShop::open_on_postgres().await {
        a_finish_is_never_told_of_a_version(shop).await;
    }
}
