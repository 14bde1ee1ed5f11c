//! Signing in and out.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::NewSession;
use chrono::TimeDelta;

use super::form::{Fields, Form, OpenForm};
use super::frame::Frame;
use super::shown::{page, page_of, status_of};
use super::visitor::{SESSION_DAYS, keep};
use super::{passwords, say};
use crate::api::Api;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    frame: Frame,
    fields: Fields,
    wrong: Option<String>,
}

fn shown(api: &Api, fields: Fields, wrong: Option<String>) -> Result<Response, Problem> {
    let status = status_of(&wrong);
    let frame = Frame::open(api, say::words().say("sign-in-title"));
    page_of(status, &SignInPage { frame, fields, wrong })
}

/// `GET /sign-in`
pub(crate) async fn get(State(api): State<Api>, uri: Uri) -> Result<Response, Problem> {
    if !api.store.has_people().await? {
        return Ok(Redirect::to("/welcome").into_response());
    }
    shown(&api, Fields::read(uri.query().unwrap_or_default().as_bytes()), None)
}

/// `POST /sign-in`
pub(crate) async fn post(
    State(api): State<Api>,
    OpenForm(fields): OpenForm,
) -> Result<Response, Problem> {
    let t = say::words();
    let found = api.store.signing_in(fields.shown("sign_in")).await?;
    let now = api.now();
    if let Some(until) = found.as_ref().and_then(|found| found.may_try_at).filter(|at| *at > now) {
        let seconds = (until - now).num_seconds() + 1;
        let wrong = t.say("sign-in-wait").with("seconds", seconds).to_string();
        return shown(&api, fields, Some(wrong));
    }
    let kept = found.as_ref().map(|found| found.password_hash.clone());
    let is_right = passwords::is(fields.shown("password"), kept).await?;
    let Some(found) = found.filter(|_| is_right) else {
        if let Some(found) = api.store.signing_in(fields.shown("sign_in")).await? {
            api.store.note_failure(found.person.shop, found.person.id, now).await?;
        }
        return shown(&api, fields, Some(t.say("sign-in-wrong").to_string()));
    };
    if found.failures > 0 {
        api.store.note_success(found.person.shop, found.person.id).await?;
    }
    begin(&api, found.person.shop, found.person.id, fields.shown("then")).await
}

/// Begins a session, and leads on to a page of ours.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn begin(
    api: &Api,
    shop: uuid::Uuid,
    person: uuid::Uuid,
    then: &str,
) -> Result<Response, Problem> {
    let (now, text) = (api.now(), passwords::secret()?);
    let expires_at = now + TimeDelta::days(SESSION_DAYS);
    api.store.add_session(&NewSession { shop, person, text: &text, expires_at }, now).await?;
    let mut response = Redirect::to(own_path(then)).into_response();
    keep(api, &mut response, &text);
    Ok(response)
}

/// A path of this service; never another site's.
fn own_path(then: &str) -> &str {
    let is_own = then.starts_with('/') && !then.starts_with("//") && !then.contains('\\');
    if is_own { then } else { "/" }
}

/// `POST /sign-out`: this session, or with `everywhere` all of the person's.
pub(crate) async fn sign_out(State(api): State<Api>, form: Form) -> Result<Response, Problem> {
    let (visitor, now) = (&form.visitor, api.now());
    let (shop, person) = (visitor.caller.shop, visitor.person.id);
    match form.fields.text("everywhere") {
        Some(_) => api.store.end_sessions(shop, person, now).await?,
        None => api.store.end_session(shop, visitor.session, now).await?,
    };
    let mut response = Redirect::to("/sign-in").into_response();
    keep(&api, &mut response, "");
    Ok(response)
}

#[derive(Template)]
#[template(path = "offline.html")]
struct OfflinePage {
    frame: Frame,
}

/// `GET /offline`: what the phone shows where there is no signal and nothing was kept.
pub(crate) async fn offline(State(api): State<Api>) -> Result<Response, Problem> {
    page(&OfflinePage { frame: Frame::open(&api, say::words().say("offline-title")) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_to_another_site() {
        assert_eq!(own_path("/shelf?x=1"), "/shelf?x=1");
        for other in ["https://other", "//other", "/\\other", "", "javascript:1"] {
            assert_eq!(own_path(other), "/");
        }
    }
}
