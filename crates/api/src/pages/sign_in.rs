//! Signing in and out. What is counted, and for how long, stands in `docs/signing-in.md`.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{Answer, NewSession, Person, SignOut, TryKey};
use chrono::TimeDelta;
use uuid::Uuid;

use super::browser::Browser;
use super::form::{Fields, Form, OpenForm};
use super::frame::Frame;
use super::own_path::own_path;
use super::passwords::Asker;
use super::shown::{page, page_of};
use super::visitor::{SESSION_DAYS, keep, visitor};
use super::{confirm, passwords, say, setup};
use crate::api::Api;
use crate::problem::{Kind, Problem};

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    frame: Frame,
    fields: Fields,
    wrong: Option<String>,
}

/// Why nobody is signed in.
enum Wrong {
    /// The name or the password; which of them is not said.
    Password,
    /// There were too many before; after how many seconds the next one is looked at.
    Wait(i64),
    /// Too many try at this moment.
    Busy(Problem),
}

fn shown(api: &Api, fields: Fields, wrong: Option<Wrong>) -> Result<Response, Problem> {
    let t = say::words();
    let (status, text, after) = match wrong {
        None => (StatusCode::OK, None, None),
        Some(Wrong::Password) => {
            (StatusCode::UNPROCESSABLE_ENTITY, Some(t.say("sign-in-wrong").to_string()), None)
        }
        Some(Wrong::Wait(seconds)) => {
            let text = t.say("sign-in-wait").with("seconds", seconds).to_string();
            (StatusCode::TOO_MANY_REQUESTS, Some(text), Some(seconds))
        }
        Some(Wrong::Busy(problem)) => {
            let after = problem.retry_after.map(i64::from);
            (StatusCode::TOO_MANY_REQUESTS, Some(problem.detail), after)
        }
    };
    let frame = Frame::open(api, t.say("sign-in-title"));
    let mut response = page_of(status, &SignInPage { frame, fields, wrong: text })?;
    if let Some(seconds) = after {
        response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
    }
    Ok(response)
}

/// `GET /sign-in`; with `?unlock=CODE` this browser is known from now on.
pub(crate) async fn get(
    State(api): State<Api>,
    browser: Browser,
    headers: HeaderMap,
    uri: Uri,
) -> Result<Response, Problem> {
    if !api.store.has_people().await? {
        return Ok(Redirect::to("/welcome").into_response());
    }
    let fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    if visitor(&api, &headers, "").await?.is_some() {
        return Ok(Redirect::to(own_path(fields.shown("then"))).into_response());
    }
    let code = fields.text("unlock").map(str::to_owned);
    let mut response = shown(&api, fields, None)?;
    if let Some(code) = code
        && api.store.device(&code).await?.is_some()
    {
        browser.keep(&api, &mut response, Some(&code));
    }
    Ok(response)
}

/// `POST /sign-in`
pub(crate) async fn post(
    State(api): State<Api>,
    browser: Browser,
    OpenForm(fields): OpenForm,
) -> Result<Response, Problem> {
    match right(&api, &browser, &fields).await? {
        Ok(person) => {
            let whose = (person.shop, person.id);
            begin(&api, &browser, whose, fields.shown("then")).await
        }
        Err(wrong) => shown(&api, fields, Some(wrong)),
    }
}

/// Who signs in with these fields. The same is done and said whether anybody has the name or not,
/// and a try is counted before the password is looked at.
async fn right(
    api: &Api,
    browser: &Browser,
    fields: &Fields,
) -> Result<Result<Person, Wrong>, Problem> {
    let (name, now) = (fields.shown("sign_in"), api.now());
    let found = api.store.signing_in(name).await?;
    let device = match &found {
        Some(found) => browser.device_of(api, found.person.id).await?,
        None => None,
    };
    let asker = if device.is_some() { Asker::Known } else { Asker::Stranger };
    let turn = match api.passwords.turn(asker) {
        Err(full) if full.kind == Kind::TooManyTries => return Ok(Err(Wrong::Busy(full))),
        turn => turn?,
    };
    let keys: Vec<TryKey> = match device {
        Some(device) => vec![TryKey::device(device.id)],
        None => {
            let address = browser.address.0.map(TryKey::address);
            [TryKey::name(name)].into_iter().chain(address).collect()
        }
    };
    if let Some(until) = api.store.take_try(&keys, now).await? {
        return Ok(Err(Wrong::Wait((until - now).num_seconds() + 1)));
    }
    let kept = found.as_ref().map(|found| found.password_hash.clone());
    if !turn.is(fields.shown("password"), kept).await? {
        let person = found.as_ref().map(|found| &found.person);
        api.store.note_wrong_sign_in(person, &browser.address.to_string(), now).await?;
        return Ok(Err(Wrong::Password));
    }
    api.store.forget_tries_of(&keys).await?;
    Ok(found.map(|found| found.person).ok_or(Wrong::Password))
}

/// Begins a session, and leads on to a page of ours.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn begin(
    api: &Api,
    browser: &Browser,
    whose: (Uuid, Uuid),
    then: &str,
) -> Result<Response, Problem> {
    let (now, text, (shop, person)) = (api.now(), passwords::secret()?, whose);
    let expires_at = now + TimeDelta::days(SESSION_DAYS);
    let new = NewSession { shop, person, text: &text, expires_at };
    let address = browser.address.to_string();
    api.store.add_session_from(&new, &browser.words, &address, now).await?;
    let mut response = Redirect::to(own_path(then)).into_response();
    keep(api, &mut response, &text);
    browser.remember(api, &mut response, whose).await?;
    Ok(response)
}

/// `POST /sign-out`: this session, or with `everywhere` all of the person's, for which the password
/// is asked again.
pub(crate) async fn sign_out(
    State(api): State<Api>,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    if form.fields.text("everywhere").is_none() {
        let visitor = &form.visitor;
        api.store.end_session(visitor.caller.shop, visitor.session, api.now()).await?;
    } else {
        match confirm::must_be_confirmed(&api, &mut form).await {
            Err(wrong) if wrong.field.is_some() => {
                return setup::me_with(&api, &form.visitor, &uri, wrong).await;
            }
            confirmed => confirmed?,
        }
        let led = Answer { status: StatusCode::SEE_OTHER.as_u16(), body: "/sign-in".to_owned() };
        let all = SignOut::Person(form.visitor.person.id);
        api.store.sign_out(all, None, &form.asked(&api), led).await?;
    }
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
