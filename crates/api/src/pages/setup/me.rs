//! Oneself: another password, where one is signed in, and every browser signed out.

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::Answered;

use super::people::{is_for_form, led, noticed, told};
use super::sessions::SessionRow;
use crate::api::Api;
use crate::pages::confirm::{self, must_be_own};
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::Visitor;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/me.html")]
struct MePage {
    frame: Frame,
    sign_in: String,
    role: String,
    sessions: Vec<SessionRow>,
    asks_password: bool,
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

/// The page with what is wrong.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn shown(
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
    let sessions = SessionRow::of(api, visitor, visitor.person.id).await?;
    let asks_password = confirm::asks(visitor, api.now());
    let status = status_of(&wrong);
    page_of(status, &MePage { frame, sign_in, role, sessions, asks_password, wrong })
}

/// `POST /people/me`: another password. Whoever is signed in as this person is not any more, but
/// for this browser.
pub(crate) async fn post(
    State(api): State<Api>,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    match changed(&api, &form).await {
        Ok(done) => Ok(Redirect::to(&done.answer().body).into_response()),
        Err(wrong) if is_for_form(&wrong) => shown(&api, &form.visitor, &uri, Some(wrong)).await,
        Err(wrong) => Err(wrong),
    }
}

async fn changed(api: &Api, form: &Form) -> Result<Answered<()>, Problem> {
    let (visitor, asked) = (&form.visitor, form.asked(api));
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(Answered::Replayed(before));
    }
    must_be_own(api, visitor, "old", form.fields.shown("old")).await?;
    let hash = api.passwords.hash("password", form.fields.shown("password")).await?;
    let led = led("/people/me?did=password".to_owned());
    let (person, but) = (visitor.person.id, Some(visitor.session));
    let set = api.store.set_password(person, &hash, but, &asked, led).await.map_err(told)?;
    api.store.confirm_session(asked.shop, visitor.session, asked.now).await?;
    Ok(set)
}
