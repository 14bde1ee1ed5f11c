//! Those who come to a door, with what they show there.

use std::fmt;

use reqwest::{Client, Method, RequestBuilder};
use serde_json::Value;
use uuid::Uuid;

use super::requests::{Body, Tried};
use super::table::{Other, Pass, Row};

/// Somebody with what they show.
pub struct Caller {
    pub base: String,
    pub client: Client,
    pub shows: Shows,
}

/// What somebody shows.
pub enum Shows {
    Nothing,
    Token(String),
    Session(String),
}

/// What they are answered.
pub struct Answer {
    pub status: u16,
    to: String,
    body: Vec<u8>,
}

impl Caller {
    /// Tries a door.
    pub async fn asks(&self, row: &Row, address: &str, tried: &Tried) -> Answer {
        let method = Method::from_bytes(row.method.as_bytes()).unwrap();
        let mut request = self.request(method, address);
        if row.is_for_programs() {
            request = request.header("Idempotency-Key", Uuid::now_v7().to_string());
            if let Some(version) = tried.version {
                request = request.header("If-Match", version);
            }
        } else {
            request = request.header("accept", "text/html");
        }
        let own = [("csrf", self.csrf().await), ("key", Uuid::now_v7().to_string())];
        answer(match &tried.body {
            Body::Nothing => request,
            Body::Json(body) => request.json(body),
            Body::Form(fields) => {
                let mut form = form_urlencoded::Serializer::new(String::new());
                form.extend_pairs(&own).extend_pairs(*fields);
                let kind = "application/x-www-form-urlencoded";
                request.header("content-type", kind).body(form.finish())
            }
            Body::File(name, text) => {
                let kind = "multipart/form-data; boundary=gull";
                request.header("content-type", kind).body(parts(&own, name, text))
            }
        })
        .await
    }

    /// Looks at an address.
    pub async fn looks_at(&self, address: &str) -> Answer {
        answer(self.request(Method::GET, address)).await
    }

    fn request(&self, method: Method, address: &str) -> RequestBuilder {
        let request = self.client.request(method, format!("{}{address}", self.base));
        match &self.shows {
            Shows::Nothing => request,
            Shows::Token(text) => request.bearer_auth(text),
            Shows::Session(text) => request.header("cookie", format!("capful_session={text}")),
        }
    }

    /// What a page of theirs would put into a form.
    async fn csrf(&self) -> String {
        let Shows::Session(_) = self.shows else { return String::new() };
        let session = self.looks_at("/session").await;
        let session: Value = serde_json::from_slice(&session.body).unwrap_or_default();
        session["csrf"].as_str().unwrap_or_default().to_owned()
    }
}

/// The body of a form with a file.
fn parts(fields: &[(&str, String)], name: &str, text: &str) -> String {
    let head = "--gull\r\nContent-Disposition: form-data; name=";
    let fields = fields.iter().map(|(name, value)| format!("{head}\"{name}\"\r\n\r\n{value}\r\n"));
    let file = format!("{head}\"files\"; filename=\"{name}\"\r\n\r\n{text}\r\n--gull--\r\n");
    fields.chain([file]).collect()
}

async fn answer(request: RequestBuilder) -> Answer {
    let answer = request.send().await.unwrap();
    let (status, to) = (answer.status().as_u16(), answer.headers().get("location").cloned());
    let to = to.map(|to| to.to_str().unwrap().to_owned()).unwrap_or_default();
    Answer { status, to, body: answer.bytes().await.unwrap().to_vec() }
}

impl Answer {
    /// Whether this is what should happen at a door.
    pub fn is(&self, pass: Pass, row: &Row) -> bool {
        let is_away = self.status == 303 && self.to.starts_with("/sign-in?then=");
        match pass {
            // What is sent may be wrong by what was sent before: it got through the door.
            Pass::Yes if row.looks() => self.status < 400 && !is_away || self.is_not_made(row),
            Pass::Yes => !is_away && !matches!(self.status, 401 | 403 | 405 | 500..),
            Pass::Unknown => self.status == 401,
            Pass::Forbidden => self.status == 403,
            Pass::Away if row.looks() => is_away,
            Pass::Away => self.status == 401,
        }
    }

    /// A picture of what was not worked out yet is not there for anybody.
    fn is_not_made(&self, row: &Row) -> bool {
        row.path == "/backtest.svg" && self.status == 404
    }

    /// Whether this is what another shop's caller should get.
    pub fn is_other(&self, other: Other) -> bool {
        match other {
            Other::Nobodys => self.status < 400,
            Other::Own => self.status < 400 || self.status == 412,
            Other::Status(status) => self.status == status,
        }
    }

    /// Whether a text stands in it.
    pub fn tells(&self, text: &str) -> bool {
        self.body.windows(text.len()).any(|part| part == text.as_bytes())
    }
}

impl fmt::Debug for Answer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = String::from_utf8_lossy(&self.body);
        let start: String = text.chars().take(300).collect();
        write!(f, "{} {} {start}", self.status, self.to)
    }
}
