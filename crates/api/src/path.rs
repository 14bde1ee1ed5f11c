//! Ids in addresses.

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use capful_domain::Id;

use crate::problem::{Kind, Problem};

/// The one id in an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named(pub Id);

impl<S: Send + Sync> FromRequestParts<S> for Named {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let text = Path::<String>::from_request_parts(parts, state).await;
        let text = text.map(|Path(text)| text).unwrap_or_default();
        let no_id = |rule| {
            let detail = format!("nothing is called `{text}`: an id has {rule}");
            Problem::new(Kind::NotFound, detail)
        };
        Id::parse(&text).map(Self).map_err(no_id)
    }
}
