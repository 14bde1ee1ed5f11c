//! Requests that change something: known again by their key, so that each is done once.
//!
//! The contract: every request that changes something carries `Idempotency-Key`, 1 to 200 visible
//! ASCII characters that the caller chose for it. Keys are the shop's own and kept for at least a
//! day. The same request again gets the same status and body, with `idempotency-replayed: true`,
//! and changes nothing, whatever has become of the shop since. The same key with another method,
//! path or body is a problem (422), and so are a missing key (400) and a repeat while the first is
//! still running (409).

use std::sync::{Arc, OnceLock};

use axum::body::Bytes;
use axum::extract::{FromRequest, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use capful_store::{Answer, Answered, Effects, WriteContext};
use chrono::{DateTime, Utc};
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use tower_http::timeout::TimeoutError;
use utoipa::IntoParams;

use crate::api::Api;
use crate::auth::Caller;
use crate::etag;
use crate::problem::{Kind, Problem};
use crate::schema;

const KEY: HeaderName = HeaderName::from_static("idempotency-key");
const REPLAYED: HeaderName = HeaderName::from_static("idempotency-replayed");
pub(crate) const LONGEST_KEY: usize = 200;

pub(crate) const TOO_SLOW: &str = "the body did not come whole in time, and nothing was changed: \
                                   send it again with the same idempotency key";

/// What a request that changes something carries beside its body.
#[derive(Debug, Clone, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code)] // for the description only
pub(crate) struct Headers {
    /// What the request is known again by: 1 to 200 visible ASCII characters.
    #[param(rename = "Idempotency-Key", value_type = schema::IdempotencyKey, required = true)]
    pub key: String,
}

/// What a request carries that sets a row up, new or as it is from now on: one of the two versions
/// must be there.
#[derive(Debug, Clone, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code)] // for the description only
pub(crate) struct PutHeaders {
    /// What the request is known again by: 1 to 200 visible ASCII characters.
    #[param(rename = "Idempotency-Key", value_type = schema::IdempotencyKey, required = true)]
    pub key: String,
    /// To change what is there: the `ETag` that was read.
    #[param(
        rename = "If-Match",
        value_type = schema::IfMatch,
        required = false,
        example = "\"3\""
    )]
    pub version: Option<String>,
    /// To make something new: `*`, and only where there is none yet.
    #[param(
        rename = "If-None-Match",
        value_type = schema::IfNoneMatch,
        required = false,
        example = "*"
    )]
    pub is_new: Option<String>,
}

/// What an edit carries of something that is there.
#[derive(Debug, Clone, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code)] // for the description only
pub(crate) struct EditHeaders {
    /// What the request is known again by: 1 to 200 visible ASCII characters.
    #[param(rename = "Idempotency-Key", value_type = schema::IdempotencyKey, required = true)]
    pub key: String,
    /// The `ETag` that was read.
    #[param(
        rename = "If-Match",
        value_type = schema::IfMatch,
        required = true,
        example = "\"3\""
    )]
    pub version: String,
}

/// What a request carries that moves something on, from whatever version where it names none.
#[derive(Debug, Clone, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code)] // for the description only
pub(crate) struct MoveHeaders {
    /// What the request is known again by: 1 to 200 visible ASCII characters.
    #[param(rename = "Idempotency-Key", value_type = schema::IdempotencyKey, required = true)]
    pub key: String,
    /// The `ETag` that was read, to move it on only where it is still that.
    #[param(
        rename = "If-Match",
        value_type = schema::IfMatch,
        required = false,
        example = "\"3\""
    )]
    pub version: Option<String>,
}

/// A request that changes something: its body, the key that it is known again by, and the version
/// that the caller has read.
///
/// A body of no bytes is read as `null`, so that `Once<Option<T>>` takes an empty one.
#[derive(Debug, Clone, PartialEq)]
pub struct Once<T> {
    /// What it says.
    pub body: T,
    /// The version of `If-Match`; 0 where it must be new.
    pub version: Option<i64>,
    key: String,
    fingerprint: String,
}

impl<T> Once<T> {
    /// The same for the store.
    #[must_use]
    pub fn asked(&self, caller: &Caller, now: DateTime<Utc>) -> WriteContext {
        let asked = WriteContext::plainly(caller.shop, now).by(caller.by);
        let asked = asked.once(&self.key, &self.fingerprint);
        WriteContext { if_match: self.version, ..asked }
    }

    /// Holds an edit to naming the version that it is an edit of.
    ///
    /// # Errors
    /// [`Kind::NoVersion`] where it names none.
    pub fn must_name_version(&self) -> Result<(), Problem> {
        let detail = "an edit says which version it is an edit of: `If-Match` with the `ETag` that \
                      was read, or `If-None-Match: *` for something new";
        self.version.map(|_| ()).ok_or_else(|| Problem::new(Kind::NoVersion, detail))
    }
}

impl<T: DeserializeOwned> FromRequest<Api> for Once<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, api: &Api) -> Result<Self, Problem> {
        let key = key_of(request.headers())?;
        let version = etag::read_version(request.headers())?;
        let is_json = is_json(request.headers());
        let what = format!("{} {}\n", request.method(), request.uri());
        let seen = request.extensions().get::<Seen>().cloned();
        let bytes = bytes_of(request, api).await?;
        if !bytes.is_empty() && !is_json {
            let detail = "the body must be JSON, with `content-type: application/json`";
            return Err(Problem::new(Kind::NotJson, detail));
        }
        let digest = Sha256::new().chain_update(&what).chain_update(&bytes).finalize();
        let fingerprint = digest.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
        if let Some(Seen(seen)) = seen {
            // A request is read once; a second reading says the same.
            let _ = seen.set((key.clone(), fingerprint.clone()));
        }
        let body = read_json(if bytes.is_empty() { b"null" } else { &bytes })?;
        Ok(Self { body, version, key, fingerprint })
    }
}

/// The key and the fingerprint of a request, once they are read.
#[derive(Debug, Clone, Default)]
struct Seen(Arc<OnceLock<(String, String)>>);

/// Gives the answer that was kept for a request where its handler finds something wrong with it:
/// what was right when it was done may be wrong in the shop that has gone on since, and the store,
/// which would have found the answer, is never asked then.
pub(crate) async fn or_kept(
    State(api): State<Api>,
    caller: Caller,
    mut request: Request,
    next: Next,
) -> Response {
    let seen = Seen::default();
    request.extensions_mut().insert(seen.clone());
    let response = next.run(request).await;
    let is_wrong = response.status().is_client_error() || response.status().is_server_error();
    let Some((key, fingerprint)) = seen.0.get().filter(|_| is_wrong) else { return response };
    let asked = WriteContext::plainly(caller.shop, api.now()).once(key, fingerprint);
    match api.store.answered_before(&asked).await {
        Ok(Some(before)) => reply(&Answered::Replayed(before)),
        _ => response,
    }
}

pub(crate) async fn bytes_of(request: Request, api: &Api) -> Result<Bytes, Problem> {
    Bytes::from_request(request, api).await.map_err(|rejection| {
        if is_late(&rejection) {
            return Problem::new(Kind::BodyTooSlow, TOO_SLOW);
        }
        let rejected = rejection.into_response().status();
        if rejected == StatusCode::PAYLOAD_TOO_LARGE {
            let mib = |bytes: usize| bytes as f64 / f64::from(1 << 20);
            let (most, import) = (mib(api.settings.body_limit), mib(api.settings.import_limit));
            let detail = format!("a body may have {most} MiB at most, an import's {import} MiB");
            return Problem::new(Kind::BodyTooLarge, detail);
        }
        Problem::new(Kind::BadRequest, "the body ended before it was whole")
    })
}

/// Whether a body was given up that did not come on in time.
pub(crate) fn is_late(error: &(dyn std::error::Error + 'static)) -> bool {
    let mut causes = std::iter::successors(Some(error), |error| error.source());
    causes.any(|cause| cause.is::<TimeoutError>())
}

fn key_of(headers: &HeaderMap) -> Result<String, Problem> {
    let how = "send `Idempotency-Key`, 1 to 200 visible ASCII characters that are this request's \
               own: the same key again changes nothing again";
    let key = headers.get(KEY).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let fits = (1..=LONGEST_KEY).contains(&key.len());
    let fits = fits && key.bytes().all(|byte| byte.is_ascii_graphic());
    if fits { Ok(key.to_owned()) } else { Err(Problem::new(Kind::NoKey, how)) }
}

fn is_json(headers: &HeaderMap) -> bool {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let essence = kind.unwrap_or_default().split(';').next().unwrap_or_default().trim();
    let essence = essence.to_ascii_lowercase();
    essence == "application/json"
        || (essence.starts_with("application/") && essence.ends_with("+json"))
}

/// A body as a value, or where and how it is wrong.
pub(crate) fn read_json<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Problem> {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let read = serde_path_to_error::deserialize(&mut reader);
    let value = read.map_err(|error| {
        let path = error.path().to_string();
        let inner = error.into_inner();
        if inner.is_data() {
            let field = Some(path).filter(|path| path != ".");
            return Problem { field, ..Problem::new(Kind::BadBody, inner.to_string()) };
        }
        Problem::new(Kind::BadJson, format!("the body is no JSON: {inner}"))
    })?;
    let ended = reader.end();
    ended.map_err(|error| Problem::new(Kind::BadJson, format!("the body is no JSON: {error}")))?;
    Ok(value)
}

/// What is kept as the answer to a request: a status and a value as JSON.
pub(crate) fn answer(status: StatusCode, value: &impl serde::Serialize) -> Answer {
    let body = serde_json::to_string(value).unwrap_or_default();
    Answer { status: status.as_u16(), body }
}

/// The answer of the store to a request, given now or again.
pub(crate) fn reply(done: &Answered<Effects>) -> Response {
    let Answer { status, body } = done.answer().clone();
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::OK);
    let json = [(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))];
    let mut response = (status, json, body).into_response();
    let version = match done {
        Answered::Replayed(answer) => version_in(&answer.body),
        Answered::Fresh(outcome, _) => outcome.version,
    };
    let headers = response.headers_mut();
    if matches!(done, Answered::Replayed(_)) {
        headers.insert(REPLAYED, HeaderValue::from_static("true"));
    }
    if let Some(version) = version {
        headers.insert(header::ETAG, etag::tag(version));
    }
    response
}

/// The version that an answer told of: its own, or that of the job that was finished.
fn version_in(body: &str) -> Option<i64> {
    let body: serde_json::Value = serde_json::from_str(body).ok()?;
    let told = body.get("version").or_else(|| body.pointer("/job/version"));
    told.and_then(serde_json::Value::as_i64)
}
