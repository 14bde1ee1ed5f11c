//! What every answer tells a browser about itself, whoever made it: what it may load, that nobody
//! frames it, that its kind is what it says.

use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;

use crate::api::Api;

/// Nothing is loaded, framed or sent to but what is the service's own, and no style or script
/// stands in a page itself.
const POLICY: &str = "default-src 'self'; img-src 'self' data:; object-src 'none'; \
                      base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// What pages never ask a browser for.
const NO_PERMISSIONS: &str = "accelerometer=(), camera=(), display-capture=(), geolocation=(), \
                              gyroscope=(), magnetometer=(), microphone=(), midi=(), payment=(), \
                              usb=()";

/// A year of HTTPS alone, from each answer on (RFC 6797). Other hosts of the domain are not ours.
const HTTPS_ALONE: HeaderValue = HeaderValue::from_static("max-age=31536000");

const HEADERS: [(HeaderName, HeaderValue); 7] = [
    (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY)),
    (header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff")),
    (header::X_FRAME_OPTIONS, HeaderValue::from_static("DENY")),
    (header::REFERRER_POLICY, HeaderValue::from_static("same-origin")),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        HeaderValue::from_static("same-origin"),
    ),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        HeaderValue::from_static("same-origin"),
    ),
    (HeaderName::from_static("permissions-policy"), HeaderValue::from_static(NO_PERMISSIONS)),
];

/// Adds what an answer does not say otherwise.
pub(crate) async fn add(State(api): State<Api>, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.entry(name).or_insert(value);
    }
    if api.settings.is_https() {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HTTPS_ALONE);
    }
    response
}
