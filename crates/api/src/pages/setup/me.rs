//! Oneself: another password, and every browser signed out.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;

use super::people::{is_for_form, noticed};
use crate::api::Api;
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::pages::{passwords, sign_in};
use crate::problem::Problem;
use crate::written::refusal;

#[derive(Template)]
#[template(path = "setup/me.html")]
struct MePage {
    frame: Frame,
    sign_in: String,
    role: String,
    wrong: Option<Problem>,
}

/// `GET /people/me`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    shown(&api, &visitor, &uri, None).await
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    uri: &Uri,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let name = &visitor.person.name;
    let mut frame = Frame::of(api, visitor, Place::More, name, "/people/me").await?;
    noticed(&mut frame, uri);
    let sign_in = visitor.person.sign_in.clone();
    let role = words().say(&format!("role-{}", visitor.person.role.word())).to_string();
    let status = status_of(&wrong);
    page_of(status, &MePage { frame, sign_in, role, wrong })
}

/// `POST /people/me`: another password. Whoever is signed in as this person is not any more, but
/// for this browser.
pub(crate) async fn post(
    State(api): State<Api>,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    let (shop, person) = (form.visitor.caller.shop, form.visitor.person.id);
    match changed(&api, &form).await {
        Ok(()) => sign_in::begin(&api, shop, person, "/people/me?did=password").await,
        Err(wrong) if is_for_form(&wrong) => shown(&api, &form.visitor, &uri, Some(wrong)).await,
        Err(wrong) => Err(wrong),
    }
}

/// Wrong old passwords are counted as those of signing in are: a browser that was left open is no
/// way to try them all.
async fn changed(api: &Api, form: &Form) -> Result<(), Problem> {
    let (t, now, person) = (words(), api.now(), &form.visitor.person);
    let found = api.store.signing_in(&person.sign_in).await?;
    let found = found.filter(|found| found.person.id == person.id);
    if let Some(until) = found.as_ref().and_then(|found| found.may_try_at).filter(|at| *at > now) {
        let seconds = (until - now).num_seconds() + 1;
        let wait = t.say("sign-in-wait").with("seconds", seconds).to_string();
        return Err(Problem::field("old", wait));
    }
    let kept = found.map(|found| found.password_hash);
    if !passwords::is(form.fields.shown("old"), kept).await? {
        api.store.note_failure(person.shop, person.id, now).await?;
        return Err(Problem::field("old", t.say("me-old-wrong").to_string()));
    }
    let hash = passwords::hash("password", form.fields.shown("password")).await?;
    let by = form.visitor.caller.by;
    let set = api.store.set_password(person.shop, person.id, &hash, now, by).await;
    set.map_err(|error| refusal(error, None))
}
