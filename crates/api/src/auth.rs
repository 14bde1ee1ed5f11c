//! Who asks: bearer tokens and what they allow.
//!
//! A token is a text of 256 random bits; the store keeps its hash. Programs send it as
//! `Authorization: Bearer TOKEN`. The pages of the documentation also take it as the password of
//! HTTP's own form (`Authorization: Basic`, any user name), which browsers ask for by themselves;
//! people who are signed in to the pages read them without one.

use std::sync::Arc;

use axum::extract::{FromRequestParts, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use base64::alphabet;
use base64::engine::{DecodePaddingMode, Engine as _, GeneralPurpose, GeneralPurposeConfig};
use capful_store::{By, Scope, SetupVersion};
use uuid::Uuid;

use crate::api::Api;
use crate::around::log_who;
use crate::pages;
use crate::problem::{Kind, Problem};
use crate::routes::Taken;

/// Who asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caller {
    /// For which shop.
    pub shop: Uuid,
    /// What the token allows.
    pub scope: Scope,
    /// Who it is, for the list of who did what.
    pub by: By,
    /// How the shop was set up when it was asked.
    pub set_up: SetupVersion,
}

/// The group of a route has asked for the token already.
impl<S: Send + Sync> FromRequestParts<S> for Caller {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let known = parts.extensions.get::<Self>().copied();
        known.ok_or_else(|| Problem::new(Kind::NoToken, HOW))
    }
}

const HOW: &str = "send `Authorization: Bearer TOKEN`; `capful token create` makes a token";

/// Lets a request through whose token allows as much as this.
pub(crate) async fn needs(
    State((api, scope, taken)): State<(Api, Scope, Arc<Taken>)>,
    mut request: Request,
    next: Next,
) -> Response {
    let path = request.extensions().get::<MatchedPath>().map_or("", MatchedPath::as_str);
    // What no token is asked for in this way is answered as that, and not as forbidden: the guard
    // stands before the answer too that says so.
    let scope = if taken.has(path, request.method()) { scope } else { Scope::Read };
    match caller(&api, bearer(request.headers()), scope).await {
        Ok(caller) => {
            log_who(caller.by);
            request.extensions_mut().insert(caller);
            next.run(request).await
        }
        Err(problem) => problem.into_response(),
    }
}

/// Lets a reader of the documentation through, who may be a person in a browser.
pub(crate) async fn needs_reader(State(api): State<Api>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    if let Ok(Some(visitor)) = pages::visitor(&api, headers, "").await {
        log_who(visitor.caller.by);
        return next.run(request).await;
    }
    let password = password(headers);
    match caller(&api, bearer(headers).or(password.as_deref()), Scope::Read).await {
        Ok(caller) => {
            log_who(caller.by);
            next.run(request).await
        }
        Err(problem) => {
            let mut response = problem.into_response();
            let form = HeaderValue::from_static(r#"Basic realm="capful: the token as password""#);
            response.headers_mut().append(header::WWW_AUTHENTICATE, form);
            response
        }
    }
}

async fn caller(api: &Api, text: Option<&str>, scope: Scope) -> Result<Caller, Problem> {
    let text = text.ok_or_else(|| Problem::new(Kind::NoToken, HOW))?;
    let found = api.store.token(text).await?;
    let Some((token, set_up)) = found.filter(|(token, _)| token.is_good(api.now())) else {
        let detail = format!("this token is not known here, has ended or was revoked; {HOW}");
        return Err(Problem::new(Kind::NoToken, detail));
    };
    if token.scope < scope {
        let (has, needs) = (token.scope.word(), scope.word());
        let detail = format!("this needs a token of scope `{needs}`, and this one's is `{has}`");
        return Err(Problem::new(Kind::ScopeTooNarrow, detail));
    }
    Ok(Caller { shop: token.shop, scope: token.scope, by: By::Token(token.id), set_up })
}

pub(crate) fn bearer(headers: &HeaderMap) -> Option<&str> {
    credentials(headers, "bearer")
}

/// RFC 4648, section 4; padding may be missing.
const BASE64: GeneralPurpose = GeneralPurpose::new(
    &alphabet::STANDARD,
    GeneralPurposeConfig::new().with_decode_padding_mode(DecodePaddingMode::Indifferent),
);

/// What stands behind the name of a scheme.
fn credentials<'h>(headers: &'h HeaderMap, scheme: &str) -> Option<&'h str> {
    let (name, rest) = headers.get(header::AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    let text = rest.trim();
    (name.eq_ignore_ascii_case(scheme) && !text.is_empty()).then_some(text)
}

/// The password of HTTP's own form: what stands behind the first colon of base64 (RFC 7617).
pub(crate) fn password(headers: &HeaderMap) -> Option<String> {
    let pair = String::from_utf8(BASE64.decode(credentials(headers, "basic")?).ok()?).ok()?;
    pair.split_once(':').map(|(_, password)| password.to_owned())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_read_as_in_rfc_4648_section_10() {
        let read = |text| String::from_utf8(BASE64.decode(text).unwrap()).unwrap();
        assert_eq!(read(""), "");
        assert_eq!(read("Zg=="), "f");
        assert_eq!(read("Zm8="), "fo");
        assert_eq!(read("Zm9v"), "foo");
        assert_eq!(read("Zm9vYmE="), "fooba");
        assert_eq!(read("Zm9vYmFy"), "foobar");
        // Padding may be missing.
        assert_eq!(read("Zg"), "f");
        assert!(BASE64.decode("Zm9*").is_err());
    }

    #[test]
    fn the_password_of_the_form_is_the_token() {
        let mut headers = HeaderMap::new();
        // "owner:a:b", as RFC 7617 writes it.
        let pair = HeaderValue::from_static("Basic b3duZXI6YTpi");
        headers.insert(header::AUTHORIZATION, pair);
        assert_eq!(password(&headers).as_deref(), Some("a:b"));
        assert_eq!(bearer(&headers), None);
    }
}
