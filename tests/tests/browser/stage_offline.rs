//! The stage's network held to what stories rely on: cut off is cut off, for a page and for the
//! service worker before it, and an answer may be lost when all was done.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::response::Html;
use axum::routing::{get, post};

use crate::in_a_browser;
use crate::stage::{Look, Site, Stage};

in_a_browser!(offline_is_offline, a_service_worker_is_cut_off_too, an_answer_is_lost);

/// Asks for what is fresh, and says what came of it.
const PAGE: &str = "<!doctype html><html lang=en><title>Shelf</title><h1>Shelf</h1>
  <button onclick='ask()'>Ask</button><button onclick='tell()'>Tell</button><p id=said></p>
  <script>
    const say = (text) => { said.textContent = text };
    const ask = () => fetch('/fresh').then((a) => a.text()).then(say, () => say('no network'));
    const post = { method: 'POST' };
    const tell = () => fetch('/tell', post).then(() => say('told'), () => say('lost'));
    addEventListener('offline', () => say('went offline'));
    addEventListener('online', () => say('came online'));
  </script>";

/// The same, with a service worker that keeps the page and passes everything else on.
const WORKED: &str = "<script>
    navigator.serviceWorker.register('/worker.js');
    navigator.serviceWorker.ready.then(() => say('kept'));
  </script>";

const WORKER: &str = "
  addEventListener('install', (event) => {
    event.waitUntil(caches.open('shelf').then((kept) => kept.add('/')));
  });
  addEventListener('fetch', (event) => {
    const kept = caches.match(event.request).then((found) => found ?? fetch(event.request));
    event.respondWith(kept);
  });";

async fn site(body: String) -> (Site, Arc<AtomicUsize>) {
    let told = Arc::new(AtomicUsize::new(0));
    let counting = Arc::clone(&told);
    let fresh = Arc::new(AtomicUsize::new(0));
    let router = Router::new()
        .route("/", get(|| async { Html(body) }))
        .route("/other", get(|| async { Html("other") }))
        .route("/worker.js", get(|| async { ([(CONTENT_TYPE, "text/javascript")], WORKER) }))
        .route(
            "/fresh",
            get(move || async move { format!("fresh {}", fresh.fetch_add(1, Relaxed)) }),
        )
        .route(
            "/tell",
            post(move || async move {
                counting.fetch_add(1, Relaxed);
            }),
        );
    (Site::of(router).await, told)
}

async fn offline_is_offline(stage: Stage) {
    let (site, _) = site(PAGE.to_owned()).await;
    let phone = stage.before(&site, Look::PHONE).await;
    let laptop = stage.before(&site, Look::LAPTOP).await;
    phone.open("/").await;
    phone.tap("Ask").await;
    phone.sees("fresh 0").await;
    phone.go_offline().await;
    phone.sees("went offline").await;
    phone.tap("Ask").await;
    phone.sees("no network").await;
    assert!(phone.try_open("/other").await.unwrap_err().contains("net::ERR_"));
    // Others are not.
    laptop.open("/").await;
    laptop.tap("Ask").await;
    laptop.sees("fresh 1").await;
    phone.go_online().await;
    phone.open("/").await;
    phone.tap("Ask").await;
    phone.sees("fresh 2").await;
}

async fn a_service_worker_is_cut_off_too(stage: Stage) {
    let (site, _) = site(format!("{PAGE}{WORKED}")).await;
    let phone = stage.before(&site, Look::PHONE).await;
    phone.open("/").await;
    phone.sees("kept").await;
    // From here on the worker stands before the page.
    phone.reload().await;
    phone.tap("Ask").await;
    phone.sees("fresh 0").await;
    phone.go_offline().await;
    phone.sees("went offline").await;
    phone.open("/").await;
    phone.tap("Ask").await;
    phone.sees("no network").await;
    phone.go_online().await;
    phone.sees("came online").await;
    phone.tap("Ask").await;
    phone.sees("fresh 1").await;
}

async fn an_answer_is_lost(stage: Stage) {
    let (site, told) = site(PAGE.to_owned()).await;
    let phone = stage.before(&site, Look::PHONE).await;
    phone.open("/").await;
    phone.tap("Tell").await;
    phone.sees("told").await;
    let before = told.load(Relaxed);
    phone.lose_answers();
    phone.tap("Tell").await;
    phone.sees("lost").await;
    assert!(told.load(Relaxed) > before);
    phone.go_online().await;
    phone.tap("Tell").await;
    phone.sees("told").await;
}
