//! What Chromium is told beside WebDriver: a command of its DevTools protocol, and what it is asked
//! for, its console.

use axum::http::Method;
use fantoccini::wd::WebDriverCompatibleCommand;
use serde_json::{Value, json};
use url::{ParseError, Url};

/// A command with its parameters.
#[derive(Debug)]
pub struct Cdp {
    body: String,
}

impl Cdp {
    pub fn new(command: &str, params: &Value) -> Self {
        Self { body: json!({ "cmd": command, "params": params }).to_string() }
    }
}

impl WebDriverCompatibleCommand for Cdp {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!("session/{}/goog/cdp/execute", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.body.clone()))
    }
}

/// What the browser's console said since it was asked last.
#[derive(Debug)]
pub struct ConsoleLog;

impl WebDriverCompatibleCommand for ConsoleLog {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(json!({ "type": "browser" }).to_string()))
    }
}
