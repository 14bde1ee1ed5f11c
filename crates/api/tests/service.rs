//! The service itself: ids of requests, counters, its description, and its end.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::Arc;
use std::time::Duration;

use capful_api::Settings;
use capful_forecast::PlanSettings;
use capful_store::{Answer, Change, Effects, WriteContext};
use common::TestShop;
use reqwest::Method;
use serde_json::Value;

#[tokio::test]
async fn a_request_has_an_id() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let own = reader.ask(Method::GET, "/api/v1/shop").header("x-request-id", "monday-1");
    assert_eq!(own.send().await.unwrap().headers()["x-request-id"], "monday-1");
    let made = reader.get("/api/v1/shop").await.headers()["x-request-id"].clone();
    assert_eq!(made.len(), 36);
    let (odd, long) = ("two words", "x".repeat(129));
    for id in [odd, &long] {
        let answer = reader.ask(Method::GET, "/healthz").header("x-request-id", id).send().await;
        assert_eq!(answer.unwrap().headers()["x-request-id"].len(), 36);
    }
}

#[tokio::test]
async fn what_is_answered_is_counted_by_route() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    for path in ["/api/v1/jobs/J-1", "/api/v1/jobs/J-2", "/api/v1/jobs/J-9", "/api/v1/nowhere"] {
        reader.get(path).await;
    }
    let answer = reader.get("/metrics").await;
    assert!(answer.headers()["content-type"].to_str().unwrap().starts_with("text/plain"));
    let text = answer.text().await.unwrap();
    let jobs = r#"capful_requests_total{method="GET",route="/api/v1/jobs/{id}""#;
    for line in [
        format!(r#"{jobs},status="200"}} 2"#),
        format!(r#"{jobs},status="404"}} 1"#),
        r#"capful_requests_total{method="GET",route="unmatched",status="404"} 1"#.to_owned(),
        r#"capful_request_seconds_count{method="GET",route="/api/v1/jobs/{id}"} 3"#.to_owned(),
        r#"capful_database_connections{state="idle"}"#.to_owned(),
    ] {
        assert!(text.contains(&line), "{line} is not in\n{text}");
    }
    assert!(!text.contains("J-1"), "{text}");
}

#[tokio::test]
async fn a_large_answer_is_packed_for_who_takes_it_so() {
    let shop = TestShop::open().await;
    let asked = shop.reader().await.ask(Method::GET, "/api/v1/plan");
    let answer = asked.header("accept-encoding", "gzip").send().await.unwrap();
    assert_eq!(answer.headers()["content-encoding"], "gzip");
    assert_eq!(answer.headers()["cache-control"], "no-store");
}

#[tokio::test]
async fn the_documentation_can_be_read_in_a_browser_and_offline() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let page = reader.in_a_browser("/api/docs/").send().await.unwrap().text().await.unwrap();
    assert!(page.contains("swagger-ui"), "{page}");
    assert!(!page.contains("https://"), "it must need nothing from elsewhere: {page}");
    let script = reader.in_a_browser("/api/docs/swagger-ui-bundle.js").send().await.unwrap();
    assert!(script.text().await.unwrap().len() > 100_000);
    let start = reader.in_a_browser("/api/docs/swagger-initializer.js").send().await.unwrap();
    assert!(start.text().await.unwrap().contains("/api/v1/openapi.json"));
    for asked in [
        reader.in_a_browser("/api/v1/openapi.json"),
        reader.ask(Method::GET, "/api/v1/openapi.json"),
    ] {
        let document: Value = asked.send().await.unwrap().json().await.unwrap();
        assert_eq!(document["openapi"], "3.1.0");
        assert_eq!(document["info"]["title"], "Capful");
    }
}

#[tokio::test]
async fn it_stops_when_told_to_and_waits_for_nobody_for_ever() {
    let mut shop = TestShop::open().await;
    let reader = shop.reader().await;
    reader.get("/healthz").await;
    // Somebody who began to ask and never goes on.
    let address = shop.base.trim_start_matches("http://").to_owned();
    let mut slow = tokio::net::TcpStream::connect(&address).await.unwrap();
    tokio::io::AsyncWriteExt::write_all(&mut slow, b"GET /healthz HTTP/1.1\r\n").await.unwrap();
    shop.stop();
    let served = shop.served.take().unwrap();
    tokio::time::timeout(std::time::Duration::from_secs(5), served)
        .await
        .unwrap()
        .unwrap()
        .unwrap();
    assert!(tokio::net::TcpStream::connect(&address).await.is_err());
}

/// Asks until an answer is as it should be.
async fn comes_to(reader: &common::Person, path: &str, text: &str) {
    for _ in 0..600 {
        if reader.get(path).await.text().await.unwrap().contains(text) {
            return;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("{path} never says {text}: {}", reader.get(path).await.text().await.unwrap());
}

#[tokio::test(flavor = "multi_thread")]
async fn who_goes_away_is_counted_and_the_plan_is_made_all_the_same() {
    let plan = PlanSettings { futures: 6000 };
    let facts = capful_demo::demo_shop("2026-03-02".parse().unwrap(), 1);
    let shop = TestShop::open_with(facts, Settings { plan, ..Settings::default() }).await;
    let reader = shop.reader().await;
    let path = "/api/v1/plan?as_of=2026-03-02";
    let hasty = reader.ask(Method::GET, path).timeout(Duration::from_millis(700)).send().await;
    assert!(hasty.unwrap_err().is_timeout());
    let gone = r#"{method="GET",route="/api/v1/plan",status="499"} 1"#;
    comes_to(&reader, "/metrics", gone).await;
    comes_to(&reader, "/metrics", r#"capful_plans_total{how="made"} 1"#).await;
    reader.see(path).await;
    let text = reader.get("/metrics").await.text().await.unwrap();
    assert!(text.contains(r#"capful_plans_total{how="kept"} 1"#), "{text}");
    assert!(text.contains(r#"capful_plans_total{how="made"} 1"#), "{text}");
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_ready_while_a_long_change_is_written() {
    let shop = TestShop::open().await;
    let (told, tell) = std::sync::mpsc::channel::<()>();
    let tell = std::sync::Mutex::new(tell);
    let (store, asked) =
        (Arc::clone(&shop.store), WriteContext::plainly(shop.shop, common::monday()));
    let supplier = shop.facts.suppliers[0].clone();
    let long = tokio::spawn(async move {
        let answer = |_: &Effects| {
            let _ = tell.lock().unwrap().recv();
            Answer { status: 200, body: String::new() }
        };
        store.change(&asked, &Change::Supplier(supplier), answer).await.unwrap();
    });
    tokio::time::sleep(Duration::from_millis(200)).await;
    let ready = tokio::time::timeout(Duration::from_secs(2), shop.stranger().get("/readyz")).await;
    drop(told);
    long.await.unwrap();
    assert_eq!(ready.unwrap().text().await.unwrap(), "ready\n");
}
