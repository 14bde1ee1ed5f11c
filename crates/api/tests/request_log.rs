//! The log: a line for each request, with who asked and from where.

#![allow(clippy::unwrap_used)]

mod common;

use std::io::Write;
use std::sync::{Arc, Mutex};

use capful_store::{By, NewToken, Scope};
use common::Person;
use common::door::Door;
use serde_json::Value;

#[derive(Clone, Default)]
struct Lines(Arc<Mutex<Vec<u8>>>);

impl Write for Lines {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl Lines {
    /// What the log says around the last request to a path.
    fn of(&self, path: &str) -> Value {
        let text = String::from_utf8(self.0.lock().unwrap().clone()).unwrap();
        let lines = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
        let mut lines = lines.filter(|line| line["path"] == path);
        lines.next_back().unwrap()["span"].clone()
    }
}

/// On one thread, so that the log of the test is the log of the service.
#[tokio::test]
async fn a_request_is_logged_with_who_asked_and_from_where() {
    let lines = Lines::default();
    let writer = lines.clone();
    let log = tracing_subscriber::fmt().json().flatten_event(true);
    let log = log.with_writer(move || writer.clone()).finish();
    let _logging = tracing::subscriber::set_default(log);
    let (door, ines) = Door::with_ines().await;
    let (text, scope, label) = ("token", Scope::Read, "probe");
    let new = NewToken { shop: ines.shop, text, scope, label, expires_at: None };
    let token = door.store.add_token(&new, common::monday(), By::Nobody).await.unwrap();

    Person::at(&door.base, Some("token")).see("/api/v1/shop").await;
    let of = lines.of("/api/v1/shop");
    assert_eq!((&of["token"], &of["address"]), (&token.id.to_string().into(), &"127.0.0.1".into()));
    assert!(of.get("person").is_none(), "{of}");

    let phone = door.stranger("192.0.2.1");
    phone.signs_in("ines").await;
    phone.sees("/people/me").await;
    let of = lines.of("/people/me");
    assert_eq!((&of["person"], &of["address"]), (&ines.id.to_string().into(), &"192.0.2.1".into()));
    assert!(of.get("token").is_none(), "{of}");

    Person::at(&door.base, Some("none")).get("/api/v1/shop").await;
    let of = lines.of("/api/v1/shop");
    assert_eq!((of.get("token"), of.get("person")), (None, None), "{of}");
    let all = String::from_utf8(lines.0.lock().unwrap().clone()).unwrap();
    assert!(!all.contains("a towel for every panel"), "no password stands in the log");
}
