//! What a person is shown where something is wrong.

use askama::Template;
use axum::http::HeaderMap;
use axum::http::header;
use axum::response::{IntoResponse, Response};

use super::frame::Frame;
use super::say::words;
use super::shown::page_of;
use crate::api::Api;
use crate::problem::{Kind, Problem};

/// Whether a person asks, with a browser, and not a program.
pub(crate) fn asks(path: &str, headers: &HeaderMap) -> bool {
    let takes = headers.get(header::ACCEPT).and_then(|value| value.to_str().ok());
    let for_programs = ["/api/", "/healthz", "/readyz", "/metrics"];
    takes.is_some_and(|kinds| kinds.contains("text/html"))
        && !for_programs.iter().any(|start| path.starts_with(start))
}

#[derive(Template)]
#[template(path = "trouble.html")]
struct TroublePage {
    frame: Frame,
    detail: String,
    errors: Vec<crate::problem::OneError>,
    request: String,
    must_sign_in: bool,
}

/// The page that says what is wrong, and what would be right.
pub(crate) fn trouble(api: &Api, problem: &Problem, request: &str) -> Response {
    let (_, title, status) = problem.kind.parts();
    let must_sign_in = problem.kind == Kind::NoToken;
    let title = match problem.kind {
        Kind::NoToken => words().say("trouble-sign-in").to_string(),
        Kind::ScopeTooNarrow => words().say("trouble-owner").to_string(),
        _ => title.to_owned(),
    };
    let is_nowhere = problem.kind == Kind::NotFound && problem.detail.contains("/api/docs");
    let detail = match &problem.field {
        _ if is_nowhere => words().say("trouble-nowhere").to_string(),
        Some(field) if problem.errors.is_empty() => format!("{field}: {}", problem.detail),
        _ => problem.detail.clone(),
    };
    let (errors, request) = (problem.errors.clone(), request.to_owned());
    let frame = Frame::open(api, title);
    let page = TroublePage { frame, detail, errors, request, must_sign_in };
    page_of(status, &page).unwrap_or_else(|_| status.into_response())
}
