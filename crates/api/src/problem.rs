//! What is answered where something is wrong: problem details (RFC 9457), for every status from
//! 400 on.
//!
//! Which error goes where: what the caller can put right becomes a [`Problem`] that says how. What
//! it cannot (the database, a panic) goes to the log, and the caller is told no more than the
//! request's id to look it up by. A handler gives `Result<_, Problem>`; the body is written by
//! `around`, which also turns whatever a library answered by itself into one.

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::IntoResponse;
use capful_store::StoreError;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa::openapi::{ContentBuilder, HeaderBuilder, Ref, RefOr, Response, ResponseBuilder};

use crate::schema;

/// The kinds of problem. Each has a stable address, a title and a status.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
#[allow(missing_docs)] // each is named after its title
pub enum Kind {
    NoToken,
    ScopeTooNarrow,
    NotFound,
    MethodNotAllowed,
    BadRequest,
    BadQuery,
    BadJson,
    BadBody,
    BodyTooLarge,
    BodyTooSlow,
    NotJson,
    NoKey,
    KeyUsed,
    StillRunning,
    NoVersion,
    Stale,
    Conflict,
    Refused,
    TimedOut,
    TooManyTries,
    Busy,
    Unavailable,
    NotReady,
    Internal,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 24] = [
        Self::NoToken,
        Self::ScopeTooNarrow,
        Self::NotFound,
        Self::MethodNotAllowed,
        Self::BadRequest,
        Self::BadQuery,
        Self::BadJson,
        Self::BadBody,
        Self::BodyTooLarge,
        Self::BodyTooSlow,
        Self::NotJson,
        Self::NoKey,
        Self::KeyUsed,
        Self::StillRunning,
        Self::NoVersion,
        Self::Stale,
        Self::Conflict,
        Self::Refused,
        Self::TimedOut,
        Self::TooManyTries,
        Self::Busy,
        Self::Unavailable,
        Self::NotReady,
        Self::Internal,
    ];

    /// The end of its address, its title and its status.
    #[must_use]
    pub const fn parts(self) -> (&'static str, &'static str, StatusCode) {
        match self {
            Self::NoToken => ("no-token", "A token is needed", StatusCode::UNAUTHORIZED),
            Self::ScopeTooNarrow => {
                ("scope-too-narrow", "The token does not allow this", StatusCode::FORBIDDEN)
            }
            Self::NotFound => ("not-found", "There is no such thing", StatusCode::NOT_FOUND),
            Self::MethodNotAllowed => {
                let status = StatusCode::METHOD_NOT_ALLOWED;
                ("method-not-allowed", "This is not asked like that", status)
            }
            Self::BadRequest => {
                ("bad-request", "The request cannot be read", StatusCode::BAD_REQUEST)
            }
            Self::BadQuery => {
                ("bad-query", "The query is not as it should be", StatusCode::BAD_REQUEST)
            }
            Self::BadJson => ("bad-json", "The body cannot be read", StatusCode::BAD_REQUEST),
            Self::BadBody => {
                ("bad-body", "The body is not as it should be", StatusCode::UNPROCESSABLE_ENTITY)
            }
            Self::BodyTooLarge => {
                ("body-too-large", "The body is too large", StatusCode::PAYLOAD_TOO_LARGE)
            }
            Self::BodyTooSlow => {
                ("body-too-slow", "The body came too slowly", StatusCode::REQUEST_TIMEOUT)
            }
            Self::NotJson => {
                ("not-json", "The body is not said to be JSON", StatusCode::UNSUPPORTED_MEDIA_TYPE)
            }
            Self::NoKey => ("no-key", "An idempotency key is needed", StatusCode::BAD_REQUEST),
            Self::KeyUsed => {
                let status = StatusCode::UNPROCESSABLE_ENTITY;
                ("key-used", "The idempotency key was used for another request", status)
            }
            Self::StillRunning => {
                ("still-running", "The same request is still running", StatusCode::CONFLICT)
            }
            Self::NoVersion => {
                ("no-version", "A version is needed", StatusCode::PRECONDITION_REQUIRED)
            }
            Self::Stale => ("stale", "It was changed since", StatusCode::PRECONDITION_FAILED),
            Self::Conflict => ("conflict", "It is there already", StatusCode::CONFLICT),
            Self::Refused => {
                ("refused", "It goes against the rules", StatusCode::UNPROCESSABLE_ENTITY)
            }
            Self::TimedOut => ("timed-out", "It took too long", StatusCode::SERVICE_UNAVAILABLE),
            Self::TooManyTries => {
                ("too-many-tries", "Too many tries", StatusCode::TOO_MANY_REQUESTS)
            }
            Self::Busy => ("busy", "The database is busy", StatusCode::SERVICE_UNAVAILABLE),
            Self::Unavailable => {
                let status = StatusCode::SERVICE_UNAVAILABLE;
                ("unavailable", "The database is unavailable", status)
            }
            Self::NotReady => {
                ("not-ready", "The service is not ready", StatusCode::SERVICE_UNAVAILABLE)
            }
            Self::Internal => {
                ("internal", "Something failed here", StatusCode::INTERNAL_SERVER_ERROR)
            }
        }
    }

    /// Seconds after which the same may be asked again, as `Retry-After` says them.
    #[must_use]
    pub const fn retry_after(self) -> Option<&'static str> {
        match self {
            Self::StillRunning | Self::Busy | Self::TimedOut => Some("1"),
            Self::Unavailable | Self::NotReady => Some("5"),
            _ => None,
        }
    }

    /// The kinds of a status.
    pub(crate) fn with_status(status: StatusCode) -> impl Iterator<Item = Self> {
        Self::ALL.into_iter().filter(move |kind| kind.parts().2 == status)
    }

    /// The kind that a library's bare status comes to.
    #[must_use]
    pub fn of_status(status: StatusCode) -> Self {
        match status {
            StatusCode::NOT_FOUND => Self::NotFound,
            StatusCode::METHOD_NOT_ALLOWED => Self::MethodNotAllowed,
            StatusCode::PAYLOAD_TOO_LARGE => Self::BodyTooLarge,
            StatusCode::REQUEST_TIMEOUT => Self::BodyTooSlow,
            StatusCode::UNSUPPORTED_MEDIA_TYPE => Self::NotJson,
            StatusCode::SERVICE_UNAVAILABLE => Self::TimedOut,
            StatusCode::TOO_MANY_REQUESTS => Self::TooManyTries,
            status if status.is_client_error() => Self::BadRequest,
            _ => Self::Internal,
        }
    }
}

/// What the description calls the answer of a status: `Problem404`.
pub(crate) fn response_name(status: StatusCode) -> String {
    format!("Problem{}", status.as_str())
}

/// How the answers where something is wrong are described, each by its name.
pub(crate) fn responses() -> Vec<(String, Response)> {
    let mut statuses: Vec<StatusCode> = Kind::ALL.iter().map(|kind| kind.parts().2).collect();
    statuses.sort_unstable();
    statuses.dedup();
    statuses.into_iter().map(|status| (response_name(status), described(status))).collect()
}

fn described(status: StatusCode) -> Response {
    let kinds = Kind::with_status(status).map(|kind| kind.parts());
    let kinds = kinds.map(|(address, title, _)| format!("`{address}`: {title}."));
    let details = Some(RefOr::Ref(Ref::from_schema_name(ProblemDetails::name())));
    let content = ContentBuilder::new().schema(details).build();
    let mut answer = ResponseBuilder::new()
        .description(kinds.collect::<Vec<_>>().join(" "))
        .content("application/problem+json", content);
    let text = |about: &str| HeaderBuilder::new().description(Some(about)).build();
    if status == StatusCode::UNAUTHORIZED {
        answer = answer.header("WWW-Authenticate", text("How to say who asks"));
    }
    if matches!(status, StatusCode::CONFLICT | StatusCode::SERVICE_UNAVAILABLE) {
        answer = answer.header("Retry-After", text("Seconds, where asking again helps"));
    }
    answer.build()
}

/// Something is wrong, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What kind.
    pub kind: Kind,
    /// What is wrong with this request, and what would be right.
    pub detail: String,
    /// The field of the body or the query that is at fault: `pours[0].amount`.
    pub field: Option<String>,
    /// Each thing that is wrong, where there are several.
    pub errors: Vec<OneError>,
    /// After how many seconds it may be asked again.
    pub retry_after: Option<u32>,
}

/// One of several things that are wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct OneError {
    /// Where.
    pub field: String,
    /// What stands there and what should.
    pub detail: String,
}

/// Problem details (RFC 9457).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(title = "Problem")]
pub struct ProblemDetails {
    /// Which kind of problem: an address that stays the same, for programs.
    #[serde(rename = "type")]
    #[schema(value_type = schema::ProblemType, example = "/problems/not-found")]
    pub kind: String,
    /// The kind in a few words, the same each time.
    pub title: &'static str,
    /// The status of the answer.
    #[schema(example = 404)]
    pub status: u16,
    /// What is wrong with this request, and what would be right.
    pub detail: String,
    /// The field of the body or the query that is at fault.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// Each thing that is wrong, where there are several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<OneError>,
    /// What the request is called in the log.
    pub request_id: String,
}

impl Problem {
    /// A problem of a kind.
    #[must_use]
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        Self { kind, detail: detail.into(), field: None, errors: Vec::new(), retry_after: None }
    }

    /// The same, to be asked again after so many seconds.
    #[must_use]
    pub fn after(self, seconds: u32) -> Self {
        Self { retry_after: Some(seconds), ..self }
    }

    /// Something in the body that is not as it should be.
    #[must_use]
    pub fn field(field: &str, detail: impl Into<String>) -> Self {
        Self { field: Some(field.to_owned()), ..Self::new(Kind::BadBody, detail) }
    }

    /// Something in the query that is not as it should be.
    #[must_use]
    pub fn query(field: &str, detail: impl Into<String>) -> Self {
        Self { field: Some(field.to_owned()), ..Self::new(Kind::BadQuery, detail) }
    }

    /// There is no such thing.
    #[must_use]
    pub fn not_found(what: &str, id: &str) -> Self {
        Self::new(Kind::NotFound, format!("there is no {what} `{id}` at that moment"))
    }

    /// Something failed that the caller cannot put right. The cause goes to the log.
    #[must_use]
    pub fn internal(cause: &dyn std::fmt::Display) -> Self {
        tracing::error!(%cause, "failed");
        let detail = "The request could not be answered. It is in the service's log by its id; \
                      asking again with the same idempotency key is safe.";
        Self::new(Kind::Internal, detail)
    }

    /// What is written in the body.
    #[must_use]
    pub fn details(self, request_id: &str) -> ProblemDetails {
        let (address, title, status) = self.kind.parts();
        ProblemDetails {
            kind: format!("/problems/{address}"),
            title,
            status: status.as_u16(),
            detail: self.detail,
            field: self.field,
            errors: self.errors,
            request_id: request_id.to_owned(),
        }
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        let detail = error.to_string();
        match error {
            StoreError::NotFound { .. } => Self::new(Kind::NotFound, detail),
            StoreError::Conflict { .. } => Self::new(Kind::Conflict, detail),
            StoreError::Stale { .. } => Self::new(Kind::Stale, detail),
            StoreError::SameKeyOtherBody => Self::new(Kind::KeyUsed, detail),
            StoreError::StillRunning => Self::new(Kind::StillRunning, detail),
            StoreError::Refused(_) => Self::new(Kind::Refused, detail),
            StoreError::Problems(problems) => {
                let errors = problems.iter().map(OneError::from).collect();
                Self { errors, ..Self::new(Kind::BadBody, detail) }
            }
            StoreError::Busy(cause) => {
                tracing::warn!(cause, "busy");
                let detail = "The database is kept busy by others: nothing was changed, and asking \
                              again in a moment with the same idempotency key is safe.";
                Self::new(Kind::Busy, detail)
            }
            StoreError::Unavailable(cause) => {
                tracing::error!(cause, "unavailable");
                let detail = "The database cannot be reached, or its disk takes no writes. Whoever \
                              runs the service can see why in its log. Nothing is written down \
                              until then: ask again with the same idempotency key.";
                Self::new(Kind::Unavailable, detail)
            }
            error => Self::internal(&error),
        }
    }
}

impl From<&capful_folder::Problem> for OneError {
    fn from(problem: &capful_folder::Problem) -> Self {
        let capful_folder::Problem { file, line, column, found, expected } = problem;
        let column = if column.is_empty() { String::new() } else { format!(":{column}") };
        Self {
            field: format!("{file}:{line}{column}"),
            detail: format!("found {found:?}, expected {expected}"),
        }
    }
}

/// The body is written once the request's id is at hand: until then the problem travels beside the
/// answer.
impl IntoResponse for Problem {
    fn into_response(self) -> axum::response::Response {
        let (_, _, status) = self.kind.parts();
        let mut response = status.into_response();
        if self.kind == Kind::NoToken {
            let schemes = HeaderValue::from_static(r#"Bearer realm="capful""#);
            response.headers_mut().insert(header::WWW_AUTHENTICATE, schemes);
        }
        response.extensions_mut().insert(self);
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_database_that_is_away_is_asked_again_later() {
        let problem = Problem::from(StoreError::Unavailable("disk of 7".to_owned()));
        assert!(!problem.detail.contains('7'), "{problem:?}");
        assert_eq!(problem.kind.retry_after(), Some("5"));
        assert_eq!(problem.into_response().status(), StatusCode::SERVICE_UNAVAILABLE);
    }

    #[test]
    fn a_busy_database_is_asked_again_later() {
        let problem = Problem::from(StoreError::Busy("locked by 7".to_owned()));
        assert!(!problem.detail.contains('7'), "{problem:?}");
        assert_eq!(problem.kind.retry_after(), Some("1"));
        assert_eq!(problem.into_response().status(), StatusCode::SERVICE_UNAVAILABLE);
    }
}
