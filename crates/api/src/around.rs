//! What happens around every request: its id, the address it comes from, its line in the log with
//! who asked, its counters, and problem details in the body of every answer from 400 on.

use std::any::Any;

use axum::body::Body;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use capful_store::By;
use chrono::{DateTime, Utc};
use tracing::Instrument;
use tracing::field::{Empty, display};

use crate::api::Api;
use crate::client_address::ClientAddress;
use crate::problem::{Kind, Problem};
use crate::{once, pages};

/// The header that a request's id comes and goes in.
pub(crate) const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Characters of a request's id that are taken over from the caller.
const LONGEST_ID: usize = 128;

/// What a request is counted as that nobody waits for any more: no status of HTTP's own, but the
/// one that servers commonly write down for it.
const ABANDONED: u16 = 499;

/// Where the answer goes.
struct Asked {
    id: String,
    method: Method,
    path: String,
    /// Whether it is a person who asks, with a browser.
    is_person: bool,
}

/// Answers a request.
pub(crate) async fn around(State(api): State<Api>, mut request: Request, next: Next) -> Response {
    let began = api.now();
    let matched = request.extensions().get::<MatchedPath>();
    let route = matched.map_or("unmatched", MatchedPath::as_str).to_owned();
    let asked = Asked {
        id: id_of(request.headers()).unwrap_or_else(|| api.store.new_uuid(began).to_string()),
        method: request.method().clone(),
        path: request.uri().path().to_owned(),
        is_person: pages::asks(request.uri().path(), request.headers()),
    };
    let address = ClientAddress::of(&request, &api.settings.trusted_proxies);
    request.extensions_mut().insert(address);
    let span = tracing::info_span!(
        "request", id = %asked.id, method = %asked.method, route, %address,
        person = Empty, token = Empty
    );
    let running = Running { api, asked, route, span, began, is_open: true };
    let response = next.run(request).instrument(running.span.clone()).await;
    let mut response = explained(response, &running.api, &running.asked);
    if let Ok(id) = HeaderValue::from_str(&running.asked.id) {
        response.headers_mut().insert(REQUEST_ID, id);
    }
    running.answered(response.status().as_u16());
    response
}

/// Names who asks in every line of the log that is about the request that is being answered.
pub(crate) fn log_who(by: By) {
    let (field, id) = match by {
        By::Nobody => return,
        By::Person(id) => ("person", id),
        By::Token(id) => ("token", id),
    };
    tracing::Span::current().record(field, display(id));
}

/// A request that is not answered yet. Where it is dropped before it is, whoever asked has gone
/// away: that is logged and counted too.
struct Running {
    api: Api,
    asked: Asked,
    route: String,
    span: tracing::Span,
    began: DateTime<Utc>,
    is_open: bool,
}

impl Running {
    fn answered(mut self, status: u16) {
        self.is_open = false;
        self.end(status, "answered");
    }

    fn end(&self, status: u16, how: &'static str) {
        let took = self.api.now() - self.began;
        let seconds = took.num_microseconds().map_or(0.0, |us| us.max(0) as f64 / 1e6);
        let path = &self.asked.path;
        self.span.in_scope(|| tracing::info!(path, status, seconds, "{how}"));
        self.api.metrics.request(&self.asked.method, &self.route, status, seconds);
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // A panic out here is told of by itself, and another one would end the process.
        if self.is_open && !std::thread::panicking() {
            self.end(ABANDONED, "abandoned");
        }
    }
}

/// The caller's own id of a request, where it is short and plain.
fn id_of(headers: &HeaderMap) -> Option<String> {
    let id = headers.get(REQUEST_ID)?.to_str().ok()?;
    let plain = id.len() <= LONGEST_ID && id.bytes().all(|byte| byte.is_ascii_graphic());
    (plain && !id.is_empty()).then(|| id.to_owned())
}

/// The answer with a body that says what is wrong, where something is.
fn explained(response: Response, api: &Api, asked: &Asked) -> Response {
    let status = response.status();
    let is_wrong = status.is_client_error() || status.is_server_error();
    if !is_wrong || response.extensions().get::<pages::IsPage>().is_some() {
        return response;
    }
    let (mut parts, _) = response.into_parts();
    let own = parts.extensions.remove::<Problem>();
    let problem = own.unwrap_or_else(|| bare(Kind::of_status(status), asked));
    let of_kind = problem.kind.retry_after().map(HeaderValue::from_static);
    let retry_after = problem.retry_after.map(HeaderValue::from).or(of_kind);
    if asked.is_person {
        let mut page = pages::trouble(api, &problem, &asked.id);
        page.headers_mut().extend(retry_after.map(|seconds| (header::RETRY_AFTER, seconds)));
        return page;
    }
    let details = problem.details(&asked.id);
    parts.status = axum::http::StatusCode::from_u16(details.status).unwrap_or(status);
    parts.headers.remove(header::CONTENT_LENGTH);
    parts.headers.extend(retry_after.map(|seconds| (header::RETRY_AFTER, seconds)));
    let json = HeaderValue::from_static("application/problem+json");
    parts.headers.insert(header::CONTENT_TYPE, json);
    Response::from_parts(parts, Body::from(serde_json::to_vec(&details).unwrap_or_default()))
}

/// What a library answered by itself, with nothing but a status.
fn bare(kind: Kind, asked: &Asked) -> Problem {
    let Asked { method, path, .. } = asked;
    let detail = match kind {
        Kind::NotFound => format!("nothing is at `{path}`; /api/docs lists what is"),
        Kind::MethodNotAllowed => {
            format!("`{path}` does not take {method}: the header `allow` says what it takes")
        }
        Kind::BodyTooLarge => "the body is larger than this takes".to_owned(),
        Kind::BodyTooSlow => once::TOO_SLOW.to_owned(),
        Kind::NotJson => "the body must be JSON, with `content-type: application/json`".to_owned(),
        Kind::TimedOut => "it took longer than a request may; nothing was changed unless a repeat \
                           with the same idempotency key says so"
            .to_owned(),
        Kind::BadRequest => {
            "the request cannot be read; /api/docs shows how it is asked".to_owned()
        }
        _ => return Problem::internal(&format!("a bare status for {method} {path}")),
    };
    Problem::new(kind, detail)
}

/// What is answered where a handler panicked.
pub(crate) fn panicked(cause: Box<dyn Any + Send + 'static>) -> Response {
    let text = cause.downcast_ref::<String>().map(String::as_str);
    let text = text.or_else(|| cause.downcast_ref::<&str>().copied()).unwrap_or("no words");
    Problem::internal(&format!("a panic: {text}")).into_response()
}
