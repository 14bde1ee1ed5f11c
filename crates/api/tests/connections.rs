//! Connections that send half a request, pause, or take no answer: each ends, and whoever waits
//! behind them is served. What would be held for ever is given up here after a minute, so that it
//! is a failure and no standstill.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::io::ErrorKind;
use std::net::SocketAddr;
use std::time::Duration;

use axum::Router;
use axum::extract::ConnectInfo;
use axum::routing::get;
use capful_api::{ConnectionLimits, Settings};
use common::{TestShop, two_gulls};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::timeout;

const AT_ONCE: Duration = Duration::from_millis(50);
const NEVER: Duration = Duration::from_secs(3600);
const PATIENCE: Duration = Duration::from_secs(60);

/// Nothing ends by itself.
const NO_LIMITS: ConnectionLimits =
    ConnectionLimits { connections: 100, head_time: NEVER, pause: NEVER, body_time: NEVER };

async fn shop(limits: ConnectionLimits) -> TestShop {
    TestShop::open_with(two_gulls(), Settings { limits, ..Settings::default() }).await
}

async fn connect(shop: &TestShop) -> TcpStream {
    TcpStream::connect(shop.base.strip_prefix("http://").unwrap()).await.unwrap()
}

async fn send(connection: &mut TcpStream, text: &str) {
    connection.write_all(text.as_bytes()).await.unwrap();
}

/// All that comes until the service ends the connection.
async fn until_it_ends(connection: &mut TcpStream) -> String {
    let mut bytes = Vec::new();
    let read = timeout(PATIENCE, connection.read_to_end(&mut bytes)).await;
    match read.expect("the service ends the connection") {
        Err(error) if error.kind() != ErrorKind::ConnectionReset => panic!("{error}"),
        _ => String::from_utf8_lossy(&bytes).into_owned(),
    }
}

/// The head of the next answer, and as much of its body as came with it.
async fn answered(connection: &mut TcpStream) -> String {
    let mut text = String::new();
    while !text.contains("\r\n\r\n") {
        let mut bytes = [0; 4096];
        let read = timeout(PATIENCE, connection.read(&mut bytes)).await;
        let count = read.expect("it is answered").unwrap();
        assert!(count > 0, "the connection ended: {text}");
        text.push_str(&String::from_utf8_lossy(&bytes[..count]));
    }
    text
}

const WHOLE: &str = "GET /healthz HTTP/1.1\r\nhost: shop\r\n\r\n";

#[tokio::test]
async fn half_a_head_is_not_waited_for() {
    let shop = shop(ConnectionLimits { head_time: AT_ONCE, ..NO_LIMITS }).await;
    for half in ["", "GET /healthz HTTP/1.1\r\n", "GET /healthz HTTP/1.1\r\nhost: shop\r\nx: y"] {
        let mut connection = connect(&shop).await;
        send(&mut connection, half).await;
        let text = until_it_ends(&mut connection).await;
        assert!(!text.contains("200 OK"), "{text}");
    }
}

#[tokio::test]
async fn a_connection_on_which_nothing_more_is_asked_ends() {
    let shop = shop(ConnectionLimits { head_time: AT_ONCE, ..NO_LIMITS }).await;
    let mut connection = connect(&shop).await;
    send(&mut connection, WHOLE).await;
    assert!(answered(&mut connection).await.starts_with("HTTP/1.1 200 OK"));
    until_it_ends(&mut connection).await;
}

async fn half_a_body_is_given_up(limits: ConnectionLimits) {
    let shop = shop(limits).await;
    let token = format!("half-{}", uuid::Uuid::now_v7());
    let new = capful_store::NewToken {
        shop: shop.shop,
        text: &token,
        scope: capful_store::Scope::Setup,
        label: "half",
        expires_at: None,
    };
    shop.store.add_token(&new, common::monday(), capful_store::By::Nobody).await.unwrap();
    for path in ["/api/v1/pours", "/api/v1/folder", "/sign-in"] {
        let mut connection = connect(&shop).await;
        let half = format!(
            "POST {path} HTTP/1.1\r\nhost: shop\r\nauthorization: Bearer {token}\r\n\
             idempotency-key: half\r\ncontent-type: application/json\r\n\
             content-length: 1000\r\n\r\n{{\"product\":"
        );
        send(&mut connection, &half).await;
        let text = until_it_ends(&mut connection).await;
        assert!(text.starts_with("HTTP/1.1 408"), "{path}: {text}");
        assert!(text.contains("/problems/body-too-slow"), "{path}: {text}");
    }
}

#[tokio::test]
async fn a_body_that_pauses_is_not_waited_for() {
    half_a_body_is_given_up(ConnectionLimits { pause: AT_ONCE, ..NO_LIMITS }).await;
}

#[tokio::test]
async fn a_body_has_to_be_whole_in_time_however_it_comes() {
    half_a_body_is_given_up(ConnectionLimits { body_time: AT_ONCE, ..NO_LIMITS }).await;
}

#[tokio::test]
async fn a_body_that_nobody_asked_for_holds_no_connection() {
    let shop = shop(NO_LIMITS).await;
    let mut connection = connect(&shop).await;
    let half = "GET /healthz HTTP/1.1\r\nhost: shop\r\ncontent-length: 1000\r\n\r\nhalf";
    send(&mut connection, half).await;
    assert!(until_it_ends(&mut connection).await.starts_with("HTTP/1.1 200 OK"));
}

#[tokio::test]
async fn who_takes_no_answer_holds_up_nobody() {
    let limits = ConnectionLimits { connections: 1, pause: AT_ONCE, ..NO_LIMITS };
    let shop = shop(limits).await;
    let page = shop.stranger().get("/welcome").await.text().await.unwrap();
    let style = page.split("href=\"/assets/").nth(1).unwrap().split('"').next().unwrap();
    // Answers that no buffer on the way has room for, and none of them is read.
    let mut deaf = connect(&shop).await;
    let asks = format!("GET /assets/{style} HTTP/1.1\r\nhost: shop\r\n\r\n").repeat(1000);
    let (_reads, mut writes) = deaf.split();
    let _ = timeout(PATIENCE, writes.write_all(asks.as_bytes())).await;
    let mut next = connect(&shop).await;
    send(&mut next, WHOLE).await;
    assert!(answered(&mut next).await.starts_with("HTTP/1.1 200 OK"));
}

#[tokio::test]
async fn the_rest_wait_until_a_connection_ends() {
    let shop = shop(ConnectionLimits { connections: 1, ..NO_LIMITS }).await;
    let mut first = connect(&shop).await;
    send(&mut first, WHOLE).await;
    answered(&mut first).await;
    let mut next = connect(&shop).await;
    send(&mut next, WHOLE).await;
    for _ in 0..20 {
        send(&mut first, WHOLE).await;
        answered(&mut first).await;
    }
    let early = next.try_read(&mut [0; 16]);
    assert_eq!(early.unwrap_err().kind(), ErrorKind::WouldBlock);
    drop(first);
    assert!(answered(&mut next).await.starts_with("HTTP/1.1 200 OK"));
}

#[tokio::test]
async fn a_request_says_who_is_at_the_other_end() {
    let router = Router::new().route(
        "/",
        get(|ConnectInfo(peer): ConnectInfo<SocketAddr>| async move { peer.to_string() }),
    );
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let never = std::future::pending();
    tokio::spawn(capful_api::serve(listener, router, NO_LIMITS, never, Duration::ZERO));
    let mut connection = TcpStream::connect(address).await.unwrap();
    send(&mut connection, "GET / HTTP/1.1\r\nhost: shop\r\nconnection: close\r\n\r\n").await;
    let own = connection.local_addr().unwrap().to_string();
    assert!(until_it_ends(&mut connection).await.ends_with(&own));
}
