//! Versions of what can be edited: `ETag` out, `If-Match` in (RFC 9110).

use axum::http::{HeaderMap, HeaderValue, header};

use crate::params::digits;
use crate::problem::{Kind, Problem};

/// The tag of a version.
pub(crate) fn tag(version: i64) -> HeaderValue {
    HeaderValue::from_str(&format!("\"{version}\""))
        .unwrap_or_else(|_| HeaderValue::from_static("\"\""))
}

/// The version that the caller has read: of `If-Match`, or 0 where `If-None-Match: *` says that
/// there must be none yet.
pub(crate) fn read_version(headers: &HeaderMap) -> Result<Option<i64>, Problem> {
    let is_new = match headers.get(header::IF_NONE_MATCH) {
        None => None,
        Some(value) if value == "*" => Some(0),
        Some(_) => {
            let detail = "`If-None-Match` takes `*`: make it only where there is none yet";
            return Err(Problem::new(Kind::BadRequest, detail));
        }
    };
    if let Some(value) = headers.get(header::IF_MATCH) {
        let text = value.to_str().unwrap_or_default().trim();
        let tag = text.strip_prefix("W/").unwrap_or(text);
        let number = tag.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        // Just as it was given: no sign, no zeros in front.
        let given = number.filter(|n| n.len() < 19 && !n.starts_with('0'));
        let version = given.and_then(digits::<i64>).filter(|version| *version > 0);
        let wrong = || {
            let detail = format!(
                "`If-Match` takes the one `ETag` that was read, such as \"3\", and not `{text}`"
            );
            Problem::new(Kind::BadRequest, detail)
        };
        return version.map(Some).ok_or_else(wrong);
    }
    Ok(is_new)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn read(pairs: &[(&'static str, &'static str)]) -> Result<Option<i64>, Kind> {
        let mut headers = HeaderMap::new();
        for (name, value) in pairs {
            headers.insert(*name, HeaderValue::from_static(value));
        }
        read_version(&headers).map_err(|problem| problem.kind)
    }

    #[test]
    fn a_version_is_named_just_as_it_was_given() {
        assert_eq!(read(&[]), Ok(None));
        assert_eq!(read(&[("if-match", "\"3\"")]), Ok(Some(3)));
        assert_eq!(read(&[("if-match", "W/\"12\"")]), Ok(Some(12)));
        assert_eq!(read(&[("if-none-match", "*")]), Ok(Some(0)));
        for odd in ["3", "\"+3\"", "\"03\"", "\"0\"", "\"\"", "*", "\"9223372036854775808\""] {
            assert_eq!(read(&[("if-match", odd)]), Err(Kind::BadRequest), "{odd}");
        }
    }

    #[test]
    fn what_is_said_beside_it_has_to_be_right_too() {
        let both = [("if-match", "\"3\""), ("if-none-match", "*")];
        assert_eq!(read(&both), Ok(Some(3)));
        let odd = [("if-match", "\"3\""), ("if-none-match", "\"3\"")];
        assert_eq!(read(&odd), Err(Kind::BadRequest));
    }
}
