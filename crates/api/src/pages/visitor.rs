//! Who looks: a person with a session, kept in a cookie.

use axum::extract::{FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{By, Person, Role, Scope, Session};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::trouble::asks;
use crate::api::Api;
use crate::auth::Caller;
use crate::problem::{Kind, Problem};

/// The cookie that a session is kept in.
const COOKIE: &str = "capful_session";

/// How long a session lasts, in days.
pub(crate) const SESSION_DAYS: i64 = 30;

/// Who looks at a page.
#[derive(Debug, Clone)]
pub(crate) struct Visitor {
    /// The shop, and what the person may do.
    pub caller: Caller,
    /// The person.
    pub person: Person,
    /// The session.
    pub session: Uuid,
    /// What a form of this session carries.
    pub csrf: String,
    /// What was done on the way here: the deed of `?done=`.
    pub done: Option<Uuid>,
}

impl Visitor {
    /// Whether the person sees costs and sets up.
    pub(crate) fn is_owner(&self) -> bool {
        self.person.role == Role::Owner
    }

    fn new(session: Session, text: &str, set_up: capful_store::SetUpStamp, query: &str) -> Self {
        let person = session.person;
        let scope = if person.role == Role::Owner { Scope::Setup } else { Scope::Shelf };
        let done = form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == "done");
        Self {
            caller: Caller { shop: session.shop, scope, by: By::Person(person.id), set_up },
            person,
            session: session.id,
            csrf: csrf(text),
            done: done.and_then(|(_, text)| text.parse().ok()),
        }
    }
}

/// What a form of a session carries, which nobody knows who does not know the session.
fn csrf(session: &str) -> String {
    let digest = Sha256::new().chain_update("form of ").chain_update(session).finalize();
    digest.iter().take(16).map(|byte| format!("{byte:02x}")).collect()
}

impl<S: Send + Sync> FromRequestParts<S> for Visitor {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let known = parts.extensions.get::<Self>().cloned();
        known.ok_or_else(|| Problem::new(Kind::NoToken, "sign in first"))
    }
}

/// A visitor who owns the shop.
#[derive(Debug, Clone)]
pub(crate) struct Owner(pub Visitor);

impl<S: Send + Sync> FromRequestParts<S> for Owner {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let visitor = Visitor::from_request_parts(parts, state).await?;
        if visitor.is_owner() {
            return Ok(Self(visitor));
        }
        let detail = "costs, people and how the shop is set up are the owner's to see and change";
        Err(Problem::new(Kind::ScopeTooNarrow, detail))
    }
}

/// Lets people through who are signed in; others are led to where they can.
pub(crate) async fn signed_in(
    State(api): State<Api>,
    mut request: Request,
    next: Next,
) -> Response {
    match visitor(&api, request.headers(), request.uri().query().unwrap_or_default()).await {
        Ok(Some(visitor)) => {
            request.extensions_mut().insert(visitor);
            next.run(request).await
        }
        Ok(None) if is_looked_at(&request) => {
            let path = request.uri().path_and_query().map_or("/", |path| path.as_str());
            let then: String = form_urlencoded::byte_serialize(path.as_bytes()).collect();
            Redirect::to(&format!("/sign-in?then={then}")).into_response()
        }
        Ok(None) => Problem::new(
            Kind::NoToken,
            "sign in again: nothing was changed; programs ask below /api/v1, with a token",
        )
        .into_response(),
        Err(problem) => problem.into_response(),
    }
}

/// Whether somebody wants to see a page, who can be led to where they sign in.
fn is_looked_at(request: &Request) -> bool {
    matches!(*request.method(), Method::GET | Method::HEAD)
        && asks(request.uri().path(), request.headers())
}

/// The person whose session a request carries, where it is good.
pub(crate) async fn visitor(
    api: &Api,
    headers: &HeaderMap,
    query: &str,
) -> Result<Option<Visitor>, Problem> {
    let Some(text) = cookie(headers) else { return Ok(None) };
    let found = api.store.session(text).await?;
    let good = found.filter(|(session, _)| session.is_good(api.now()));
    Ok(good.map(|(session, set_up)| Visitor::new(session, text, set_up, query)))
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = all.flat_map(|text| text.split(';')).filter_map(|pair| pair.split_once('='));
    pairs.find(|(name, _)| name.trim() == COOKIE).map(|(_, text)| text.trim())
}

/// Keeps a session in the browser; an empty one is forgotten.
pub(crate) fn keep(api: &Api, response: &mut Response, text: &str) {
    let age = if text.is_empty() { 0 } else { SESSION_DAYS * 24 * 60 * 60 };
    let secure = if api.settings.secure_cookies { "; Secure" } else { "" };
    let cookie = format!("{COOKIE}={text}; Path=/; HttpOnly; SameSite=Lax; Max-Age={age}{secure}");
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
}
