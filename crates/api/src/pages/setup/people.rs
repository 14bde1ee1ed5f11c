//! People: who may sign in to the shop, and as what.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{Answer, Answered, NewPerson, Person, PersonChanged, Role};
use uuid::Uuid;

use super::sessions::SessionRow;
use crate::api::Api;
use crate::pages::confirm::{self, must_be_confirmed};
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Notice, Place};
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
    asks_password: bool,
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
    /// Where they are signed in.
    sessions: Vec<SessionRow>,
    /// The labels of the tokens that end with them.
    tokens: String,
    asks_password: bool,
    wrong: Option<Problem>,
}

/// What was done to a person, said on the page that it leads to: `?did=WORD`.
const DID: [&str; 9] = [
    "added",
    "edited",
    "password",
    "ended",
    "made",
    "revoked",
    "session-ended",
    "signed-out",
    "all-signed-out",
];

/// The notice that stands in an address.
pub(super) fn noticed(frame: &mut Frame, uri: &Uri) {
    let query = Fields::read(uri.query().unwrap_or_default().as_bytes());
    if let Some(did) = DID.into_iter().find(|did| query.text("did") == Some(did)) {
        let mut text = words().say(&format!("people-did-{did}")).to_string();
        if let Some(tokens) = query.text("tokens").and_then(|text| text.parse::<u32>().ok()) {
            text = format!("{text} {}", words().say("people-tokens-gone").with("tokens", tokens));
        }
        frame.notice = Some(Notice { text, undo: None });
    }
}

/// What a form of people can be sent again with.
pub(super) fn is_for_form(wrong: &Problem) -> bool {
    wrong.field.is_some() || [Kind::Refused, Kind::Conflict].contains(&wrong.kind)
}

/// A refusal of the store; a name to sign in with that is taken is told at its field.
pub(super) fn told(error: capful_store::StoreError) -> Problem {
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

pub(super) async fn shown(
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
    let asks_password = confirm::asks(visitor, api.now());
    page_of(status, &PeoplePage { frame, people, fields, asks_password, wrong })
}

/// `POST /people`
pub(crate) async fn add(
    State(api): State<Api>,
    Owner(_): Owner,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    match added(&api, &mut form).await {
        Ok(done) => Ok(Redirect::to(&done.answer().body).into_response()),
        Err(wrong) if is_for_form(&wrong) => {
            shown(&api, &form.visitor, &uri, form.fields, Some(wrong)).await
        }
        Err(wrong) => Err(wrong),
    }
}

async fn added(api: &Api, form: &mut Form) -> Result<Answered<Person>, Problem> {
    let asked = form.asked(api);
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(Answered::Replayed(before));
    }
    if role(&form.fields)? == Role::Owner {
        must_be_confirmed(api, form).await?;
    }
    let fields = &form.fields;
    let must = |name: &str| match fields.text(name) {
        Some(text) => Ok(text),
        None => Err(Problem::field(name, "this has to be filled in")),
    };
    let (shop, name, sign_in) = (asked.shop, must("name")?, must("sign_in")?);
    let role = role(fields)?;
    let password_hash = &api.passwords.hash("password", fields.shown("password")).await?;
    let new = NewPerson { shop, sign_in, name, role, password_hash };
    let made = api.store.add_person_once(&new, &asked, led("/people?did=added".to_owned())).await;
    made.map_err(told)
}

/// The answer that leads to a page.
pub(super) fn led(path: String) -> Answer {
    Answer { status: StatusCode::SEE_OTHER.as_u16(), body: path }
}

fn role(fields: &Fields) -> Result<Role, Problem> {
    let role = Role::from_word(fields.shown("role"));
    role.ok_or_else(|| Problem::field("role", "one of owner, helper"))
}

/// A person of the shop.
pub(super) async fn one(api: &Api, visitor: &Visitor, id: &str) -> Result<Person, Problem> {
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
    let sessions = SessionRow::of(api, visitor, person.id).await?;
    let tokens = tokens_of(api, &person).await?;
    let asks_password = confirm::asks(visitor, api.now());
    let status = status_of(&wrong);
    page_of(
        status,
        &PersonPage { frame, person, fields, is_me, sessions, tokens, asks_password, wrong },
    )
}

/// The labels of the tokens that somebody made and that work, with `, ` between.
async fn tokens_of(api: &Api, person: &Person) -> Result<String, Problem> {
    let tokens = api.store.tokens(person.shop).await?.into_iter();
    let own = tokens.filter(|token| token.made_by == Some(person.id) && token.is_good(api.now()));
    let name = |token: capful_store::Token| match token.label.is_empty() {
        true => token.id.to_string(),
        false => token.label,
    };
    Ok(own.map(name).collect::<Vec<_>>().join(", "))
}

/// Shows the person again with what is wrong.
pub(super) async fn shown_again(
    api: &Api,
    form: &Form,
    uri: &Uri,
    id: &str,
    wrong: Problem,
) -> Result<Response, Problem> {
    if !is_for_form(&wrong) {
        return Err(wrong);
    }
    let person = one(api, &form.visitor, id).await?;
    let mut fields = form.fields.clone();
    for (name, value) in [("name", person.name.as_str()), ("role", person.role.word())] {
        if fields.text(name).is_none() {
            fields.set(name, value);
        }
    }
    shown_one(api, &form.visitor, uri, person, fields, Some(wrong)).await
}

/// Leads to the list, or shows the person again with what is wrong.
async fn led_or_shown<T>(
    api: &Api,
    form: &Form,
    uri: &Uri,
    id: &str,
    done: Result<Answered<T>, Problem>,
) -> Result<Response, Problem> {
    match done {
        Ok(done) => Ok(Redirect::to(&done.answer().body).into_response()),
        Err(wrong) => shown_again(api, form, uri, id, wrong).await,
    }
}

/// Where it leads once somebody was changed or ended: to the list, which says what it came to.
fn led_to_list(did: &'static str) -> impl Fn(&PersonChanged) -> Answer + Send + Sync {
    move |changed| {
        let tokens = match changed.tokens_revoked {
            0 => String::new(),
            number => format!("&tokens={number}"),
        };
        led(format!("/people?did={did}{tokens}"))
    }
}

/// `POST /people/{id}`
pub(crate) async fn edit(
    State(api): State<Api>,
    Owner(_): Owner,
    Path(id): Path<String>,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    let done = edited(&api, &mut form, &id).await;
    led_or_shown(&api, &form, &uri, &id, done).await
}

async fn edited(api: &Api, form: &mut Form, id: &str) -> Result<Answered<PersonChanged>, Problem> {
    let asked = form.asked(api);
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(Answered::Replayed(before));
    }
    let person = one(api, &form.visitor, id).await?;
    let role = role(&form.fields)?;
    if [person.role, role].contains(&Role::Owner) {
        must_be_confirmed(api, form).await?;
    }
    let (name, led) = (form.fields.shown("name"), led_to_list("edited"));
    api.store.edit_person(person.id, name, role, &asked, led).await.map_err(told)
}

/// `POST /people/{id}/password`
pub(crate) async fn set_password(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    // One's own needs the old one.
    if id == visitor.person.id.to_string() {
        return Ok(Redirect::to("/people/me").into_response());
    }
    let done = password_set(&api, &mut form, &id).await;
    led_or_shown(&api, &form, &uri, &id, done).await
}

async fn password_set(api: &Api, form: &mut Form, id: &str) -> Result<Answered<()>, Problem> {
    let asked = form.asked(api);
    if let Some(before) = api.store.answered_before(&asked).await? {
        return Ok(Answered::Replayed(before));
    }
    let person = one(api, &form.visitor, id).await?;
    must_be_confirmed(api, form).await?;
    let hash = api.passwords.hash("password", form.fields.shown("password")).await?;
    let led = led("/people?did=password".to_owned());
    api.store.set_password(person.id, &hash, None, &asked, led).await.map_err(told)
}

/// `POST /people/{id}/end`
pub(crate) async fn end(
    State(api): State<Api>,
    Owner(_): Owner,
    Path(id): Path<String>,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    let done = ended(&api, &mut form, &id).await;
    led_or_shown(&api, &form, &uri, &id, done).await
}

async fn ended(api: &Api, form: &mut Form, id: &str) -> Result<Answered<PersonChanged>, Problem> {
    let person = one(api, &form.visitor, id).await?;
    if person.role == Role::Owner && person.ended_at.is_none() {
        must_be_confirmed(api, form).await?;
    }
    let (asked, led) = (form.asked(api), led_to_list("ended"));
    api.store.end_person(person.id, &asked, led).await.map_err(told)
}
