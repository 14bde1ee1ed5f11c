//! Where somebody is signed in, and that it ends there: one's own, and for the owner everybody's.

use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{Session, SignOut};
use uuid::Uuid;

use super::people::{self, is_for_form, led, told};
use crate::api::Api;
use crate::known::known;
use crate::pages::confirm::must_be_confirmed;
use crate::pages::form::Form;
use crate::pages::say::words;
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::Problem;

/// A session as it is listed.
pub(super) struct SessionRow {
    pub id: Uuid,
    /// The browser, in a few words.
    pub device: String,
    /// Since when, when it was last seen, and from where.
    pub what: String,
    /// Whether it is the one that the page is looked at with.
    pub is_this: bool,
}

impl SessionRow {
    /// The sessions of a person, the one that began last first.
    pub(super) async fn of(
        api: &Api,
        visitor: &Visitor,
        person: Uuid,
    ) -> Result<Vec<Self>, Problem> {
        let (known, now) = (known(api, &visitor.caller).await?, api.now());
        let sessions = api.store.sessions_of(visitor.caller.shop, person, now).await?;
        let day = |at| known.shop.day_of(at).format("%-d %b %Y").to_string();
        let t = words();
        let row = |session: Session| {
            let since = t.say("sessions-since").with("day", day(session.made_at)).to_string();
            let seen = session.seen_at.map(day);
            let seen = seen.map(|day| t.say("sessions-seen").with("day", day).to_string());
            let address = Some(session.address).filter(|address| !address.is_empty());
            let what = [Some(since), seen, address].into_iter().flatten().collect::<Vec<_>>();
            Self {
                id: session.id,
                device: device(&session.device),
                what: what.join(" · "),
                is_this: session.id == visitor.session,
            }
        };
        Ok(sessions.into_iter().map(row).collect())
    }
}

/// A browser as it is told of.
fn device(kept: &str) -> String {
    let t = words();
    let (kind, runs_on) = kept.split_once(' ').unwrap_or((kept, ""));
    let kind = match kind {
        "phone" => t.say("device-phone").to_string(),
        "tablet" => t.say("device-tablet").to_string(),
        "computer" => t.say("device-computer").to_string(),
        _ => t.say("device-unknown").to_string(),
    };
    if runs_on.is_empty() { kind } else { format!("{kind} · {runs_on}") }
}

/// `POST /people/me/sessions/{session}/end`
pub(crate) async fn end_own(
    State(api): State<Api>,
    Path(session): Path<String>,
    form: Form,
) -> Result<Response, Problem> {
    let person = form.visitor.person.id;
    end(&api, &form, person, &session, "/people/me?did=session-ended").await
}

/// `POST /people/{id}/sessions/{session}/end`
pub(crate) async fn end_of(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path((id, session)): Path<(String, String)>,
    form: Form,
) -> Result<Response, Problem> {
    let person = people::one(&api, &visitor, &id).await?.id;
    let to = format!("/people/{person}?did=session-ended");
    end(&api, &form, person, &session, &to).await
}

async fn end(
    api: &Api,
    form: &Form,
    person: Uuid,
    session: &str,
    to: &str,
) -> Result<Response, Problem> {
    let session = session.parse().map_err(|_| Problem::not_found("session", session))?;
    let (one, asked) = (SignOut::One { person, session }, form.asked(api));
    let done = api.store.sign_out(one, None, &asked, led(to.to_owned())).await?;
    Ok(Redirect::to(&done.answer().body).into_response())
}

/// `POST /people/{id}/sign-out`: somebody, everywhere.
pub(crate) async fn sign_out(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    form: Form,
) -> Result<Response, Problem> {
    let person = people::one(&api, &visitor, &id).await?.id;
    let to = led(format!("/people/{person}?did=signed-out"));
    let (all, but) = (SignOut::Person(person), Some(visitor.session));
    let done = api.store.sign_out(all, but, &form.asked(&api), to).await?;
    Ok(Redirect::to(&done.answer().body).into_response())
}

/// `POST /people/sign-out`: everybody, but for this browser.
pub(crate) async fn sign_all_out(
    State(api): State<Api>,
    Owner(visitor): Owner,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    let asked = form.asked(&api);
    if let Err(wrong) = must_be_confirmed(&api, &mut form).await {
        return match is_for_form(&wrong) {
            true => people::shown(&api, &visitor, &uri, form.fields, Some(wrong)).await,
            false => Err(wrong),
        };
    }
    let (but, to) = (Some(visitor.session), led("/people?did=all-signed-out".to_owned()));
    let done = api.store.sign_out(SignOut::Everybody, but, &asked, to).await.map_err(told)?;
    Ok(Redirect::to(&done.answer().body).into_response())
}
