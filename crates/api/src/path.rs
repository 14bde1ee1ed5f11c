//! Ids and other names in addresses.
//!
//! `~X` in an address means the name X. It is what `.`, `..` and the like are written as, which
//! browsers and proxies would take for a step up the path, and `new`, at whose address something
//! new is made: a shop may call a product so. `~` itself is no letter of an id.

use std::fmt::{Display, Write as _};

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use capful_domain::Id;

use crate::problem::{Kind, Problem};

/// Segments at which a page of its own stands where a name could.
const FIXED: [&str; 1] = ["new"];

/// A name as one segment of an address.
pub(crate) fn segment(name: impl Display) -> String {
    let name = name.to_string();
    let is_dots = name.bytes().all(|byte| byte == b'.');
    let is_marked = is_dots || name.starts_with('~') || FIXED.contains(&name.as_str());
    let mut segment = String::from(if is_marked { "~" } else { "" });
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            segment.push(char::from(byte));
        } else {
            let _ = write!(segment, "%{byte:02X}");
        }
    }
    segment
}

/// The address of a container's page: `R-0412/1` is two segments of it.
pub(crate) fn container(id: impl Display) -> String {
    let id = id.to_string();
    id.split('/').fold("/containers".to_owned(), |path, part| path + "/" + &segment(part))
}

/// The name that a segment, once decoded, stands for.
pub(crate) fn name_of(segment: &str) -> &str {
    segment.strip_prefix('~').unwrap_or(segment)
}

/// The one id in an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named(pub Id);

impl<S: Send + Sync> FromRequestParts<S> for Named {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let NamedText(text) = NamedText::from_request_parts(parts, state).await?;
        let no_id = |rule| {
            let detail = format!("nothing is called `{text}`: an id has {rule}");
            Problem::new(Kind::NotFound, detail)
        };
        Id::parse(&text).map(Self).map_err(no_id)
    }
}

/// The one name in an address, of whatever letters: a lot's, a container's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NamedText(pub String);

impl<S: Send + Sync> FromRequestParts<S> for NamedText {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let text = Path::<String>::from_request_parts(parts, state).await;
        let text = text.map(|Path(text)| text).unwrap_or_default();
        Ok(Self(name_of(&text).to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_is_taken_for_a_step_up_or_for_something_new() {
        let written =
            [".", "..", "...", "new", "~", "~a", "-", "_", "New", "a.b", "lot 7/é?"].map(segment);
        let expected = ["~.", "~..", "~...", "~new", "~~", "~~a", "-", "_", "New", "a.b"];
        assert_eq!(written[..10], expected);
        assert_eq!(written[10], "lot%207%2F%C3%A9%3F");
        for (name, segment) in [".", "..", "new", "~", "~a", "-"]
            .iter()
            .zip(["~.", "~..", "~new", "~~", "~~a", "-"].iter())
        {
            assert_eq!(name_of(segment), *name);
        }
        assert_eq!(container("../1"), "/containers/~../1");
        assert_eq!(container("R-7"), "/containers/R-7");
    }
}
