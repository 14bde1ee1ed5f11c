//! Who looks: a person with a session, kept in a cookie.

use std::sync::Arc;

use axum::extract::{FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{By, Person, Role, Scope, Session};
use chrono::{DateTime, TimeDelta, Utc};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::trouble::asks;
use crate::api::Api;
use crate::around::log_who;
use crate::auth::Caller;
use crate::client_address::ClientAddress;
use crate::problem::{Kind, Problem};

/// The cookie that a session is kept in; over HTTPS, the one that browsers take from nobody but
/// this very host (RFC 6265bis, section 4.1.3.2).
pub(super) const COOKIE: &str = "capful_session";
const SECURE_COOKIE: &str = "__Host-capful_session";

/// How often it is noted that a session is seen: a day's last look is told within this.
const SEEN_EVERY: TimeDelta = TimeDelta::hours(1);

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
    /// When the session was last seen, as far as that was noted.
    pub seen_at: Option<DateTime<Utc>>,
    /// When they last gave the password.
    pub confirmed_at: Option<DateTime<Utc>>,
    /// From where they look.
    pub address: ClientAddress,
}

impl Visitor {
    /// Whether the person sees costs and sets up.
    pub(crate) fn is_owner(&self) -> bool {
        self.person.role == Role::Owner
    }

    fn new(session: Session, text: &str, set_up: capful_store::SetupVersion, query: &str) -> Self {
        let person = session.person;
        let scope = if person.role == Role::Owner { Scope::Setup } else { Scope::Shelf };
        let done = form_urlencoded::parse(query.as_bytes()).find(|(name, _)| name == "done");
        Self {
            caller: Caller { shop: session.shop, scope, by: By::Person(person.id), set_up },
            person,
            session: session.id,
            csrf: csrf(text),
            done: done.and_then(|(_, text)| text.parse().ok()),
            seen_at: session.seen_at,
            confirmed_at: session.confirmed_at,
            address: ClientAddress::default(),
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
    let query = request.uri().query().unwrap_or_default();
    match visitor(&api, request.headers(), query).await {
        Ok(Some(mut visitor)) => {
            log_who(visitor.caller.by);
            visitor.address = request.extensions().get().copied().unwrap_or_default();
            see(&api, &visitor);
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
    let Some(text) = cookie(headers, cookie_name(api)) else { return Ok(None) };
    let found = api.store.session(text).await?;
    let good = found.filter(|(session, _)| session.is_good(api.now()));
    Ok(good.map(|(session, set_up)| Visitor::new(session, text, set_up, query)))
}

/// Notes that a session is seen, now and then, beside what is answered: nobody waits for it.
fn see(api: &Api, visitor: &Visitor) {
    let now = api.now();
    if visitor.seen_at.is_some_and(|at| now - at < SEEN_EVERY) {
        return;
    }
    let (store, shop, session) = (Arc::clone(&api.store), visitor.caller.shop, visitor.session);
    let address = visitor.address.to_string();
    tokio::spawn(async move {
        if let Err(error) = store.see_session(shop, session, &address, now).await {
            tracing::warn!(%error, "it is not noted when a session was seen");
        }
    });
}

/// What a cookie holds.
pub(super) fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = all.flat_map(|text| text.split(';')).filter_map(|pair| pair.split_once('='));
    pairs.find(|(own, _)| own.trim() == name).map(|(_, text)| text.trim())
}

fn cookie_name(api: &Api) -> &'static str {
    if api.settings.is_https() { SECURE_COOKIE } else { COOKIE }
}

/// Keeps a session in the browser; an empty one is forgotten.
pub(crate) fn keep(api: &Api, response: &mut Response, text: &str) {
    let age = if text.is_empty() { 0 } else { SESSION_DAYS * 24 * 60 * 60 };
    let (name, secure) = (cookie_name(api), if api.settings.is_https() { "; Secure" } else { "" });
    let cookie = format!("{name}={text}; Path=/; HttpOnly; SameSite=Lax; Max-Age={age}{secure}");
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
}
