//! Versions of what can be edited: `ETag` out, `If-Match` in (RFC 9110).

use axum::http::{HeaderMap, HeaderValue, header};

use crate::problem::{Kind, Problem};

/// The tag of a version.
pub(crate) fn tag(version: i64) -> HeaderValue {
    HeaderValue::from_str(&format!("\"{version}\""))
        .unwrap_or_else(|_| HeaderValue::from_static("\"\""))
}

/// The version that the caller has read: of `If-Match`, or 0 where `If-None-Match: *` says that
/// there must be none yet.
pub(crate) fn read_version(headers: &HeaderMap) -> Result<Option<i64>, Problem> {
    if let Some(value) = headers.get(header::IF_MATCH) {
        let text = value.to_str().unwrap_or_default().trim();
        let tag = text.strip_prefix("W/").unwrap_or(text);
        let number = tag.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        let version = number.and_then(|number| number.parse().ok()).filter(|version| *version > 0);
        let wrong = || {
            let detail = format!(
                "`If-Match` takes the one `ETag` that was read, such as \"3\", and not `{text}`"
            );
            Problem::new(Kind::BadRequest, detail)
        };
        return version.map(Some).ok_or_else(wrong);
    }
    match headers.get(header::IF_NONE_MATCH) {
        None => Ok(None),
        Some(value) if value == "*" => Ok(Some(0)),
        Some(_) => {
            let detail = "`If-None-Match` takes `*`: make it only where there is none yet";
            Err(Problem::new(Kind::BadRequest, detail))
        }
    }
}
