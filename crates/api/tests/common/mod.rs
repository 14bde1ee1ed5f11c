//! A running service of one shop, and the people who speak to it.

#![allow(clippy::unwrap_used, dead_code)]

pub mod door;
pub mod people;

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use capful_api::{Api, Settings, router, serve};
use capful_domain::{Facts, Snapshot};
use capful_store::{By, Change, NewToken, Scope, Store, WriteContext};
use chrono::{DateTime, TimeDelta, Utc};
use reqwest::{Client, Method, RequestBuilder, Response, StatusCode};
use sea_orm::{ConnectionTrait, Database};
use serde_json::Value;
use tempfile::TempDir;
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;
use uuid::Uuid;

/// What asks the service: it follows nothing by itself, so that each answer is seen.
pub fn client() -> Client {
    // The program's own client speaks TLS too; whoever builds one says by what. One is enough.
    let _ = rustls::crypto::ring::default_provider().install_default();
    Client::builder().redirect(reqwest::redirect::Policy::none()).build().unwrap()
}

/// A Monday morning at Two Gulls.
pub fn monday() -> DateTime<Utc> {
    "2026-03-02T12:00:00Z".parse().unwrap()
}

/// What Two Gulls has written down.
pub fn two_gulls() -> Facts {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/two-gulls");
    capful_folder::read(&folder).unwrap().facts
}

/// A service on a port of its own.
pub struct TestShop {
    pub base: String,
    pub shop: Uuid,
    pub store: Arc<Store>,
    pub facts: Facts,
    clock: Arc<Mutex<DateTime<Utc>>>,
    panic_at: Arc<AtomicUsize>,
    stop: Option<oneshot::Sender<()>>,
    pub served: Option<JoinHandle<std::io::Result<()>>>,
    _directory: TempDir,
}

/// Somebody who asks, with a token or without one.
#[derive(Clone)]
pub struct Person {
    base: String,
    token: Option<String>,
    client: Client,
}

impl TestShop {
    /// Two Gulls on a Monday morning.
    pub async fn open() -> Self {
        Self::open_with(two_gulls(), Settings::default()).await
    }

    /// A shop with these facts, served like this.
    pub async fn open_with(facts: Facts, settings: Settings) -> Self {
        let directory = tempfile::tempdir().unwrap();
        let url = format!("sqlite:{}", directory.path().join("shop.db").display());
        Self::open_at(&url, directory, facts, settings).await
    }

    /// Two Gulls in a schema of PostgreSQL of its own; nothing where no PostgreSQL is told of, as
    /// `scripts/test` does.
    pub async fn open_on_postgres() -> Option<Self> {
        let Ok(server) = std::env::var("CAPFUL_TEST_POSTGRES") else {
            eprintln!("passed over: `scripts/postgres` runs this test beside a PostgreSQL");
            return None;
        };
        let name = format!("test_{}", Uuid::now_v7().simple());
        let connection = Database::connect(&server).await.unwrap();
        connection.execute_unprepared(&format!("CREATE SCHEMA {name}")).await.unwrap();
        connection.close().await.unwrap();
        let joint = if server.contains('?') { '&' } else { '?' };
        let url = format!("{server}{joint}options[search_path]={name}");
        let directory = tempfile::tempdir().unwrap();
        Some(Self::open_at(&url, directory, two_gulls(), Settings::default()).await)
    }

    async fn open_at(url: &str, directory: TempDir, facts: Facts, settings: Settings) -> Self {
        let store = Arc::new(Store::open(url).await.unwrap());
        store.migrate().await.unwrap();
        let clock = Arc::new(Mutex::new(monday()));
        let shop = store.new_uuid(monday());
        let expected = capful_forecast::expected_pours(&Snapshot::of(&facts, monday()));
        let change = Change::Import { facts: Box::new(facts.clone()), expected };
        store.change_plainly(&WriteContext::plainly(shop, monday()), &change).await.unwrap();
        let panic_at = Arc::new(AtomicUsize::new(0));
        let (reading, counting) = (Arc::clone(&clock), Arc::clone(&panic_at));
        let now = Arc::new(move || {
            let left = counting.fetch_update(Relaxed, Relaxed, |left| left.checked_sub(1));
            assert!(left != Ok(1), "the clock fell off the wall");
            *reading.lock().unwrap()
        });
        let api = Api::new(Arc::clone(&store), now, settings);
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let (stop, stopped) = oneshot::channel();
        let until = async move { stopped.await.unwrap_or_default() };
        let deadline = Duration::from_millis(300);
        let limits = api.settings.limits;
        let served = tokio::spawn(serve(listener, router(api), limits, until, deadline));
        Self {
            base,
            shop,
            store,
            facts,
            clock,
            panic_at,
            stop: Some(stop),
            served: Some(served),
            _directory: directory,
        }
    }

    /// Tells the service to stop.
    pub fn stop(&mut self) {
        self.stop.take().unwrap().send(()).unwrap();
    }

    /// Lets the clock fail when it is read for this time from now on, counted from 1.
    pub fn panic_at_reading(&self, number: usize) {
        self.panic_at.store(number, Relaxed);
    }

    /// Lets time pass.
    pub fn pass(&self, time: TimeDelta) {
        *self.clock.lock().unwrap() += time;
    }

    /// Sets up.
    pub async fn owner(&self) -> Person {
        self.with_token("owner", Scope::Setup, None).await
    }

    /// Writes down what happens.
    pub async fn helper(&self) -> Person {
        self.with_token("helper", Scope::Shelf, None).await
    }

    /// Looks.
    pub async fn reader(&self) -> Person {
        self.with_token("reader", Scope::Read, None).await
    }

    /// Has no token.
    pub fn stranger(&self) -> Person {
        self.person(None)
    }

    /// Has some text for a token.
    pub fn person(&self, token: Option<&str>) -> Person {
        Person::at(&self.base, token)
    }

    /// Has a token that ends after some time.
    pub async fn with_token(&self, label: &str, scope: Scope, life: Option<TimeDelta>) -> Person {
        let text = format!("{label}-{}", Uuid::now_v7());
        let expires_at = life.map(|life| monday() + life);
        let new = NewToken { shop: self.shop, text: &text, scope, label, expires_at };
        self.store.add_token(&new, monday(), By::Nobody).await.unwrap();
        self.person(Some(&text))
    }
}

/// A service whose database has got no tables.
pub async fn without_tables() -> (String, TempDir) {
    let directory = tempfile::tempdir().unwrap();
    let url = format!("sqlite:{}", directory.path().join("shop.db").display());
    let store = Arc::new(Store::open(&url).await.unwrap());
    let api = Api::new(store, Arc::new(monday), Settings::default());
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let (limits, never) = (api.settings.limits, std::future::pending());
    tokio::spawn(serve(listener, router(api), limits, never, Duration::ZERO));
    (base, directory)
}

impl Person {
    /// Somebody who asks the service at an address.
    pub fn at(base: &str, token: Option<&str>) -> Self {
        let client = client();
        Self { base: base.to_owned(), token: token.map(str::to_owned), client }
    }

    /// A request to an address of the service.
    pub fn ask(&self, method: Method, path: &str) -> RequestBuilder {
        let request = self.client.request(method, format!("{}{path}", self.base));
        match &self.token {
            Some(token) => request.bearer_auth(token),
            None => request,
        }
    }

    /// The same person's token as the password of a browser's form.
    pub fn in_a_browser(&self, path: &str) -> RequestBuilder {
        let request = self.client.get(format!("{}{path}", self.base));
        request.basic_auth("anyone", self.token.as_ref())
    }

    pub async fn get(&self, path: &str) -> Response {
        self.ask(Method::GET, path).send().await.unwrap()
    }

    /// What an address answers where all is well.
    pub async fn see(&self, path: &str) -> Value {
        let answer = self.get(path).await;
        let status = answer.status();
        let text = answer.text().await.unwrap();
        assert_eq!(status, StatusCode::OK, "{path}: {text}");
        serde_json::from_str(&text).unwrap()
    }

    /// A request that changes something, with a key of its own.
    pub fn change(&self, method: Method, path: &str) -> RequestBuilder {
        let key = Uuid::now_v7().to_string();
        self.ask(method, &format!("/api/v1{path}")).header("Idempotency-Key", key)
    }

    /// Writes something down, and reads what that did.
    pub async fn post(&self, path: &str, body: &Value) -> Value {
        let post = self.change(Method::POST, path);
        let post = if body.is_null() { post } else { post.json(body) };
        well(path, post.send().await.unwrap()).await
    }

    /// Sets something new up.
    pub async fn put_new(&self, path: &str, body: &Value) -> Value {
        let put = self.change(Method::PUT, path).header("If-None-Match", "*").json(body);
        well(path, put.send().await.unwrap()).await
    }

    /// Changes what was read at a version.
    pub async fn edit(&self, method: Method, path: &str, version: i64, body: &Value) -> Value {
        let edit = self.change(method, path).header("If-Match", format!("\"{version}\""));
        well(path, edit.json(body).send().await.unwrap()).await
    }

    /// Takes a shop folder over, known again by a key.
    pub async fn take_over(&self, key: &str, folder: &Value) -> Response {
        let post = self.ask(Method::POST, "/api/v1/folder").header("Idempotency-Key", key);
        post.json(folder).send().await.unwrap()
    }
}

/// Reads an answer where all is well.
pub async fn well(path: &str, answer: Response) -> Value {
    let status = answer.status();
    let text = answer.text().await.unwrap();
    assert!(status.is_success(), "{path}: {status}: {text}");
    serde_json::from_str(&text).unwrap()
}

/// Reads an answer as a problem of a kind, and holds it to what every problem is.
pub async fn problem(answer: Response, status: u16, kind: &str) -> Value {
    let kind_of_body = answer.headers().get("content-type").cloned();
    let id = answer.headers().get("x-request-id").cloned();
    let got = answer.status();
    let text = answer.text().await.unwrap();
    assert_eq!(got.as_u16(), status, "{text}");
    assert_eq!(kind_of_body.unwrap(), "application/problem+json", "{text}");
    let body: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(body["type"], format!("/problems/{kind}"), "{text}");
    assert_eq!(body["status"], status, "{text}");
    assert_eq!(body["request_id"], id.unwrap().to_str().unwrap(), "{text}");
    assert!(!body["title"].as_str().unwrap().is_empty(), "{text}");
    assert!(body["detail"].as_str().unwrap().len() > 10, "{text}");
    body
}
