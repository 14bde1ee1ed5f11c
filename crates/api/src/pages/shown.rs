//! A page as it is sent: what a template makes, kept by nobody on the way.

use askama::Template;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{Answer, Answered, Effects};

use crate::problem::Problem;

/// Marks an answer that is a page already, whatever its status.
#[derive(Debug, Clone, Copy)]
pub(crate) struct IsPage;

const HEADERS: [(HeaderName, HeaderValue); 2] = [
    (header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8")),
    (header::CACHE_CONTROL, HeaderValue::from_static("no-store")),
];

/// A page.
///
/// # Errors
/// [`Problem`] where the template fails.
pub(crate) fn page(template: &impl Template) -> Result<Response, Problem> {
    page_of(StatusCode::OK, template)
}

/// A page with a status.
///
/// # Errors
/// [`Problem`] where the template fails.
pub(crate) fn page_of(status: StatusCode, template: &impl Template) -> Result<Response, Problem> {
    let html = template.render().map_err(|error| Problem::internal(&error))?;
    let mut response = (status, html).into_response();
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, value);
    }
    response.extensions_mut().insert(IsPage);
    Ok(response)
}

/// The status of a page that says what is wrong with a form, or that nothing is.
pub(crate) const fn status_of<T>(wrong: &Option<T>) -> StatusCode {
    match wrong {
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
        None => StatusCode::OK,
    }
}

/// Where a form leads once what it asked for was done, as the answer that is kept.
pub(crate) fn lead_to(path: &str, outcome: &Effects) -> Answer {
    let mark = if path.contains('?') { '&' } else { '?' };
    let (path, place) = path
        .split_once('#')
        .map_or((path, String::new()), |(path, place)| (path, format!("#{place}")));
    let body = format!("{path}{mark}done={}{place}", outcome.deed);
    Answer { status: StatusCode::SEE_OTHER.as_u16(), body }
}

/// Leads there.
pub(crate) fn led(done: &Answered<Effects>) -> Response {
    Redirect::to(&done.answer().body).into_response()
}
