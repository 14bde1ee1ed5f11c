//! People: who may sign in to the shop, and as what.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{NewPerson, Person, Role};
use uuid::Uuid;

use crate::api::Api;
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Notice, Place};
use crate::pages::passwords;
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::{Kind, Problem};
use crate::written::refusal;

#[derive(Template)]
#[template(path = "setup/people.html")]
struct PeoplePage {
    frame: Frame,
    people: Vec<Row>,
    fields: Fields,
    wrong: Option<Problem>,
}

struct Row {
    id: Uuid,
    name: String,
    sign_in: String,
    role: String,
    is_me: bool,
    has_ended: bool,
}

#[derive(Template)]
#[template(path = "setup/person.html")]
struct PersonPage {
    frame: Frame,
    person: Person,
    fields: Fields,
    is_me: bool,
    wrong: Option<Problem>,
}

/// What was done to a person, said on the page that it leads to: `?did=WORD`.
const DID: [&str; 6] = ["added", "edited", "password", "ended", "made", "revoked"];

/// The notice that stands in an address.
pub(super) fn noticed(frame: &mut Frame, uri: &Uri) {
    let query = Fields::read(uri.query().unwrap_or_default().as_bytes());
    if let Some(did) = DID.into_iter().find(|did| query.text("did") == Some(did)) {
        let text = words().say(&format!("people-did-{did}")).to_string();
        frame.notice = Some(Notice { text, undo: None });
    }
}

/// What a form of people can be sent again with.
pub(super) fn is_for_form(wrong: &Problem) -> bool {
    wrong.field.is_some() || [Kind::Refused, Kind::Conflict].contains(&wrong.kind)
}

/// A refusal of the store; a name to sign in with that is taken is told at its field.
fn told(error: capful_store::StoreError) -> Problem {
    match error {
        capful_store::StoreError::Conflict { .. } => {
            Problem::field("sign_in", words().say("people-taken").to_string())
        }
        error => refusal(error, None),
    }
}

/// `GET /people`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    uri: Uri,
) -> Result<Response, Problem> {
    let mut fields = Fields::default();
    fields.set("role", Role::Helper.word());
    shown(&api, &visitor, &uri, fields, None).await
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    uri: &Uri,
    fields: Fields,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let t = words();
    let people = api.store.people(visitor.caller.shop).await?;
    let row = |person: Person| Row {
        id: person.id,
        is_me: person.id == visitor.person.id,
        has_ended: person.ended_at.is_some(),
        role: t.say(&format!("role-{}", person.role.word())).to_string(),
        name: person.name,
        sign_in: person.sign_in,
    };
    let people = people.into_iter().map(row).collect();
    let mut frame = Frame::of(api, visitor, Place::More, t.say("people-title"), "/people").await?;
    noticed(&mut frame, uri);
    let status = status_of(&wrong);
    page_of(status, &PeoplePage { frame, people, fields, wrong })
}

/// `POST /people`
pub(crate) async fn add(
    State(api): State<Api>,
    Owner(visitor): Owner,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    match added(&api, &visitor, &form.fields).await {
        Ok(_) => Ok(Redirect::to("/people?did=added").into_response()),
        Err(wrong) if is_for_form(&wrong) => {
            shown(&api, &visitor, &uri, form.fields, Some(wrong)).await
        }
        Err(wrong) => Err(wrong),
    }
}

async fn added(api: &Api, visitor: &Visitor, fields: &Fields) -> Result<Person, Problem> {
    let must = |name: &str| match fields.text(name) {
        Some(text) => Ok(text),
        None => Err(Problem::field(name, "this has to be filled in")),
    };
    let (shop, name, sign_in) = (visitor.caller.shop, must("name")?, must("sign_in")?);
    let role = role(fields)?;
    let password_hash = &passwords::hash("password", fields.shown("password")).await?;
    let new = NewPerson { shop, sign_in, name, role, password_hash };
    api.store.add_person(&new, api.now(), visitor.caller.by).await.map_err(told)
}

fn role(fields: &Fields) -> Result<Role, Problem> {
    let role = Role::from_word(fields.shown("role"));
    role.ok_or_else(|| Problem::field("role", "one of owner, helper"))
}

/// A person of the shop.
async fn one(api: &Api, visitor: &Visitor, id: &str) -> Result<Person, Problem> {
    let people = api.store.people(visitor.caller.shop).await?;
    let own = people.into_iter().find(|person| person.id.to_string() == id);
    own.ok_or_else(|| Problem::not_found("person", id))
}

/// `GET /people/{id}`
pub(crate) async fn get_one(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    uri: Uri,
) -> Result<Response, Problem> {
    let person = one(&api, &visitor, &id).await?;
    let mut fields = Fields::default();
    fields.set("name", &person.name);
    fields.set("role", person.role.word());
    shown_one(&api, &visitor, &uri, person, fields, None).await
}

async fn shown_one(
    api: &Api,
    visitor: &Visitor,
    uri: &Uri,
    person: Person,
    fields: Fields,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let path = format!("/people/{}", person.id);
    let mut frame = Frame::of(api, visitor, Place::More, &person.name, path).await?;
    noticed(&mut frame, uri);
    let is_me = person.id == visitor.person.id;
    let status = status_of(&wrong);
    page_of(status, &PersonPage { frame, person, fields, is_me, wrong })
}

/// Leads to the list, or shows the person again with what is wrong.
async fn ended_or_shown(
    api: &Api,
    visitor: &Visitor,
    (uri, id, did): (&Uri, &str, &str),
    fields: &Fields,
    done: Result<(), Problem>,
) -> Result<Response, Problem> {
    let wrong = match done {
        Ok(()) => return Ok(Redirect::to(&format!("/people?did={did}")).into_response()),
        Err(wrong) if is_for_form(&wrong) => wrong,
        Err(wrong) => return Err(wrong),
    };
    let person = one(api, visitor, id).await?;
    let mut fields = fields.clone();
    for (name, value) in [("name", person.name.as_str()), ("role", person.role.word())] {
        if fields.text(name).is_none() {
            fields.set(name, value);
        }
    }
    shown_one(api, visitor, uri, person, fields, Some(wrong)).await
}

/// `POST /people/{id}`
pub(crate) async fn edit(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    let person = one(&api, &visitor, &id).await?;
    let name = form.fields.shown("name");
    let done = match role(&form.fields) {
        Ok(role) => {
            let (now, by) = (api.now(), visitor.caller.by);
            let edited = api.store.edit_person(person.shop, person.id, name, role, now, by).await;
            edited.map_err(told)
        }
        Err(wrong) => Err(wrong),
    };
    let to = (&uri, id.as_str(), "edited");
    ended_or_shown(&api, &visitor, to, &form.fields, done.map(|_| ())).await
}

/// `POST /people/{id}/password`
pub(crate) async fn set_password(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    let person = one(&api, &visitor, &id).await?;
    // One's own needs the old one.
    if person.id == visitor.person.id {
        return Ok(Redirect::to("/people/me").into_response());
    }
    let done = match passwords::hash("password", form.fields.shown("password")).await {
        Ok(hash) => {
            let (now, by) = (api.now(), visitor.caller.by);
            let set = api.store.set_password(person.shop, person.id, &hash, now, by).await;
            set.map_err(told)
        }
        Err(wrong) => Err(wrong),
    };
    ended_or_shown(&api, &visitor, (&uri, &id, "password"), &form.fields, done).await
}

/// `POST /people/{id}/end`
pub(crate) async fn end(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    uri: Uri,
    form: Form,
) -> Result<Response, Problem> {
    let person = one(&api, &visitor, &id).await?;
    let (now, by) = (api.now(), visitor.caller.by);
    let done = api.store.end_person(person.shop, person.id, now, by).await.map_err(told);
    ended_or_shown(&api, &visitor, (&uri, &id, "ended"), &form.fields, done).await
}
