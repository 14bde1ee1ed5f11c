//! The first run: a shop and its owner are made. Whoever runs the service has a code for it, which
//! it prints when it starts: nobody else on the network becomes the owner.

use std::sync::atomic::{AtomicU32, Ordering::SeqCst};

use askama::Template;
use axum::Json;
use axum::extract::State;
use axum::http::Uri;
use axum::response::{IntoResponse, Redirect, Response};
use capful_domain::{Currency, Shop, UnitSystem};
use capful_folder::cells;
use capful_store::{FirstRun, Person};
use chrono::{DateTime, Utc};

use super::browser::Browser;
use super::form::{Fields, OpenForm};
use super::frame::Frame;
use super::shown::{page_of, status_of};
use super::visitor::Visitor;
use super::{say, sign_in};
use crate::api::Api;
use crate::problem::{Kind, Problem};

/// Wrong codes that are taken before no other is.
const MOST_TRIES: u32 = 30;

/// The code of the first run.
#[derive(Debug)]
pub(crate) struct FirstRunCode {
    code: String,
    tries: AtomicU32,
}

impl Default for FirstRunCode {
    fn default() -> Self {
        // Letters and digits that are not taken for each other.
        const LETTERS: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
        let mut bytes = [0; 10];
        // Where the system draws nothing at random there is no code, and none is right.
        let tries = match getrandom::fill(&mut bytes) {
            Ok(()) => 0,
            Err(_) => MOST_TRIES,
        };
        let draw = |byte: u8| char::from(LETTERS[usize::from(byte) % LETTERS.len()]);
        Self { code: bytes.into_iter().map(draw).collect(), tries: AtomicU32::new(tries) }
    }
}

impl FirstRunCode {
    pub(crate) fn code(&self) -> &str {
        &self.code
    }

    fn check(&self, code: &str) -> Result<(), Problem> {
        if self.tries.load(SeqCst) >= MOST_TRIES {
            let detail = "too many wrong codes: start the service again for another";
            return Err(Problem::field("code", detail));
        }
        if code.trim().eq_ignore_ascii_case(&self.code) {
            return Ok(());
        }
        self.tries.fetch_add(1, SeqCst);
        Err(Problem::field("code", "the code that the service printed when it started"))
    }
}

#[derive(Template)]
#[template(path = "welcome.html")]
struct WelcomePage {
    frame: Frame,
    fields: Fields,
    /// Whether the shop is there already, and only its owner is not.
    has_shop: bool,
    zones: Vec<&'static str>,
    wrong: Option<Problem>,
}

/// `GET /welcome`
pub(crate) async fn get(State(api): State<Api>, uri: Uri) -> Result<Response, Problem> {
    if api.store.has_people().await? {
        return Ok(Redirect::to("/sign-in").into_response());
    }
    let mut fields = Fields::read(uri.query().unwrap_or_default().as_bytes());
    for (name, value) in [("units", "metric"), ("currency", "USD")] {
        if fields.text(name).is_none() {
            fields.set(name, value);
        }
    }
    shown(&api, fields, None).await
}

async fn shown(api: &Api, fields: Fields, wrong: Option<Problem>) -> Result<Response, Problem> {
    let status = status_of(&wrong);
    let has_shop = !api.store.shops().await?.is_empty();
    let zones = chrono_tz::TZ_VARIANTS.iter().map(|zone| zone.name()).collect();
    let frame = Frame::open(api, say::words().say("welcome-title"));
    page_of(status, &WelcomePage { frame, fields, has_shop, zones, wrong })
}

/// `POST /welcome`
pub(crate) async fn post(
    State(api): State<Api>,
    browser: Browser,
    OpenForm(fields): OpenForm,
) -> Result<Response, Problem> {
    if api.store.has_people().await? {
        return Ok(Redirect::to("/sign-in").into_response());
    }
    match made(&api, &fields).await {
        // Somebody was first, if only by a second tap of the same finger.
        Ok(None) => Ok(Redirect::to("/sign-in").into_response()),
        Ok(Some(owner)) => sign_in::begin(&api, &browser, (owner.shop, owner.id), "/").await,
        Err(wrong) if [Kind::Internal, Kind::Busy].contains(&wrong.kind) => Err(wrong),
        Err(wrong) => shown(&api, fields, Some(wrong)).await,
    }
}

/// Makes the shop, where there is none, and its owner; nothing where somebody was first.
async fn made(api: &Api, fields: &Fields) -> Result<Option<Person>, Problem> {
    api.first_run.check(fields.shown("code"))?;
    let must = |name: &str| match fields.text(name) {
        Some(text) => Ok(text),
        None => Err(Problem::field(name, "this has to be filled in")),
    };
    let (name, sign_in) = (must("name")?, must("sign_in")?);
    let shop = match api.store.shops().await?.is_empty() {
        true => Some(shop_of(fields)?),
        false => None,
    };
    let password_hash = &api.passwords.hash("password", fields.shown("password")).await?;
    let first = FirstRun { shop: shop.as_ref(), sign_in, name, password_hash };
    Ok(api.store.open_shop(&first, api.now()).await?)
}

fn shop_of(fields: &Fields) -> Result<Shop, Problem> {
    let name = cells::text(fields.shown("shop"))
        .map_err(|_| Problem::field("shop", "the name on the door"))?;
    let zone = fields.shown("timezone").parse();
    let zone = zone.map_err(|_| Problem::field("timezone", "a zone such as America/Halifax"))?;
    let currency = Currency::parse(fields.shown("currency"));
    let currency = currency
        .ok_or_else(|| Problem::field("currency", "a code of ISO 4217, such as CAD or EUR"))?;
    let mut shop = Shop::new(&name, zone, currency);
    if fields.text("units") == Some("us") {
        shop.units = UnitSystem::Us;
    }
    Ok(shop)
}

/// What the script asks before it sends what was kept: who is signed in, and what time it is.
#[derive(serde::Serialize)]
pub(crate) struct SessionAnswer {
    name: String,
    csrf: String,
    /// By the clock that what is told is held against.
    now: DateTime<Utc>,
}

/// `GET /session`
pub(crate) async fn session(State(api): State<Api>, visitor: Visitor) -> Json<SessionAnswer> {
    let now = api.now();
    Json(SessionAnswer { name: visitor.person.name, csrf: visitor.csrf, now })
}
