//! Tokens: what programs speak with. Each is shown once, when it is made.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_store::{Answered, NewToken, Scope, Token};
use chrono::Days;
use uuid::Uuid;

use super::people::{is_for_form, led, noticed};
use crate::api::Api;
use crate::known::known;
use crate::pages::confirm::{self, must_be_confirmed};
use crate::pages::form::{Fields, Form};
use crate::pages::frame::{Frame, Place};
use crate::pages::passwords;
use crate::pages::say::words;
use crate::pages::shown::{page_of, status_of};
use crate::pages::visitor::{Owner, Visitor};
use crate::problem::Problem;
use crate::written::refusal;

/// The longest life of a token that ends by itself, in days.
const MOST_DAYS: u64 = 36_500;

#[derive(Template)]
#[template(path = "setup/tokens.html")]
struct TokensPage {
    frame: Frame,
    /// The one that was just made.
    made: Option<Made>,
    tokens: Vec<Row>,
    scopes: Vec<(&'static str, String)>,
    fields: Fields,
    asks_password: bool,
    wrong: Option<Problem>,
}

/// A token that was made.
enum Made {
    /// Its text, which is shown this once.
    Now(String),
    /// The same form came before, and its text was shown then.
    Before,
}

struct Row {
    id: Uuid,
    label: String,
    what: String,
    is_good: bool,
}

/// `GET /people/tokens`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
    uri: Uri,
) -> Result<Response, Problem> {
    let mut fields = Fields::default();
    fields.set("scope", Scope::Read.word());
    shown(&api, &visitor, &uri, fields, Ok(None)).await
}

/// The page, with a token that was just made, or why it was not.
async fn shown(
    api: &Api,
    visitor: &Visitor,
    uri: &Uri,
    fields: Fields,
    made: Result<Option<Made>, Problem>,
) -> Result<Response, Problem> {
    let t = words();
    let (known, now) = (known(api, &visitor.caller).await?, api.now());
    let day = |at| known.shop.day_of(at).format("%-d %b %Y").to_string();
    let people = api.store.people(visitor.caller.shop).await?;
    let row = |token: Token| {
        let scope = t.say(&format!("scope-{}", token.scope.word())).to_string();
        let made = t.say("tokens-made").with("day", day(token.made_at)).to_string();
        let end = match (token.revoked_at, token.expires_at) {
            (Some(at), _) => Some(t.say("tokens-revoked").with("day", day(at)).to_string()),
            (None, Some(at)) => Some(t.say("tokens-ends").with("day", day(at)).to_string()),
            (None, None) => None,
        };
        let by = token.made_by.and_then(|id| people.iter().find(|person| person.id == id));
        let by = by.map(|maker| t.say("tokens-by").with("name", &maker.name).to_string());
        let what = [Some(scope), Some(made), by, end].into_iter().flatten().collect::<Vec<_>>();
        let label = match token.label.is_empty() {
            true => token.id.to_string(),
            false => token.label.clone(),
        };
        Row { id: token.id, label, what: what.join(" · "), is_good: token.is_good(now) }
    };
    let mut tokens = api.store.tokens(visitor.caller.shop).await?;
    tokens.sort_by_key(|token| !token.is_good(now));
    let tokens = tokens.into_iter().map(row).collect();
    let scope =
        |scope: Scope| (scope.word(), t.say(&format!("scope-{}", scope.word())).to_string());
    let scopes = Scope::ALL.into_iter().map(scope).collect();
    let title = t.say("tokens-title");
    let mut frame = Frame::of(api, visitor, Place::More, title, "/people/tokens").await?;
    noticed(&mut frame, uri);
    let (made, wrong) = match made {
        Ok(made) => (made, None),
        Err(wrong) => (None, Some(wrong)),
    };
    let status = status_of(&wrong);
    let asks_password = confirm::asks(visitor, api.now());
    page_of(status, &TokensPage { frame, made, tokens, scopes, fields, asks_password, wrong })
}

/// `POST /people/tokens`
pub(crate) async fn make(
    State(api): State<Api>,
    Owner(_): Owner,
    uri: Uri,
    mut form: Form,
) -> Result<Response, Problem> {
    match made(&api, &mut form).await {
        Err(wrong) if !is_for_form(&wrong) => Err(wrong),
        made => shown(&api, &form.visitor, &uri, form.fields, made.map(Some)).await,
    }
}

async fn made(api: &Api, form: &mut Form) -> Result<Made, Problem> {
    let asked = form.asked(api);
    if api.store.answered_before(&asked).await?.is_some() {
        return Ok(Made::Before);
    }
    must_be_confirmed(api, form).await?;
    let fields = &form.fields;
    let scope = Scope::from_word(fields.shown("scope"));
    let scope = scope.ok_or_else(|| Problem::field("scope", "one of read, shelf, setup"))?;
    let days = fields.text("days").map(|text| {
        let days = text.parse::<u64>().ok().filter(|days| (1..=MOST_DAYS).contains(days));
        days.ok_or_else(|| Problem::field("days", format!("a whole number from 1 to {MOST_DAYS}")))
    });
    let (now, days) = (asked.now, days.transpose()?);
    let expires_at = days.and_then(|days| now.checked_add_days(Days::new(days)));
    let text = format!("capful_{}", passwords::secret()?);
    let (shop, label) = (asked.shop, fields.shown("label"));
    if label.is_empty() {
        return Err(Problem::field("label", "what the token is for"));
    }
    let new = NewToken { shop, text: &text, scope, label, expires_at };
    let shown = led("/people/tokens?did=made".to_owned());
    let done = api.store.add_token_once(&new, &asked, shown).await;
    match done.map_err(|error| refusal(error, None))? {
        Answered::Fresh(..) => Ok(Made::Now(text)),
        Answered::Replayed(_) => Ok(Made::Before),
    }
}

/// `POST /people/tokens/{id}/revoke`
pub(crate) async fn revoke(
    State(api): State<Api>,
    Owner(visitor): Owner,
    Path(id): Path<String>,
    _form: Form,
) -> Result<Response, Problem> {
    let token = id.parse().map_err(|_| Problem::not_found("token", &id))?;
    let (shop, by) = (visitor.caller.shop, visitor.caller.by);
    api.store.revoke_token(shop, token, api.now(), by).await?;
    Ok(Redirect::to("/people/tokens?did=revoked").into_response())
}
