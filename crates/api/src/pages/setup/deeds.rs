//! Who did what, the last first: in words, with where it can be seen, and undone where it can be.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::Id;
use capful_store::{AuditAction, AuditEntry, By, WrongSignIns};
use chrono::NaiveDate;
use uuid::Uuid;

use crate::api::Api;
use crate::known::{Known, known};
use crate::pages::form::Fields;
use crate::pages::frame::{Frame, Place, day_name};
use crate::pages::names::short;
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::undo::may_undo;
use crate::pages::visitor::Visitor;
use crate::path::segment;
use crate::problem::Problem;

/// Deeds of a page.
const MOST: usize = 50;

#[derive(Template)]
#[template(path = "setup/deeds.html")]
struct DeedsPage {
    frame: Frame,
    days: Vec<Day>,
    /// Where the page before these begins.
    before: Option<Uuid>,
    is_first: bool,
}

/// What was done on a day.
struct Day {
    name: String,
    deeds: Vec<Line>,
}

struct Line {
    id: Uuid,
    time: String,
    who: String,
    text: String,
    links: Vec<(String, String)>,
    undone: bool,
    can_be_undone: bool,
}

/// `GET /deeds?before=ID`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    let query = Fields::read(uri.query().unwrap_or_default().as_bytes());
    let before = query.text("before").map(str::parse::<Uuid>).transpose();
    let before = before.map_err(|_| Problem::query("before", "the id of a deed"))?;
    let most = u64::try_from(MOST + 1).unwrap_or(u64::MAX);
    let mut deeds = api.store.deeds(visitor.caller.shop, before, most).await?;
    let has_more = deeds.len() > MOST;
    deeds.truncate(MOST);
    let telling = Telling::of(&api, &visitor, &deeds).await?;
    let mut days: Vec<(NaiveDate, Day)> = Vec::new();
    for deed in &deeds {
        let day = telling.known.shop.day_of(deed.at);
        if days.last().is_none_or(|(last, _)| *last != day) {
            let today = telling.known.shop.day_of(api.now());
            days.push((day, Day { name: day_name(day, today), deeds: Vec::new() }));
        }
        if let Some((_, last)) = days.last_mut() {
            last.deeds.push(telling.line(deed));
        }
    }
    let days = days.into_iter().map(|(_, day)| day).collect();
    let path = before.map_or("/deeds".to_owned(), |before| format!("/deeds?before={before}"));
    let title = words().say("deeds-title");
    let frame = Frame::of(&api, &visitor, Place::More, title, path).await?;
    let (is_first, last) = (before.is_none(), deeds.last().map(|deed| deed.id));
    let before = last.filter(|_| has_more);
    page(&DeedsPage { frame, days, before, is_first })
}

/// What is needed to tell of deeds.
struct Telling {
    known: std::sync::Arc<Known>,
    names: HashMap<Uuid, String>,
    /// Deeds that were undone by others.
    undone: HashMap<Uuid, AuditEntry>,
    is_owner: bool,
}

impl Telling {
    async fn of(api: &Api, visitor: &Visitor, deeds: &[AuditEntry]) -> Result<Self, Problem> {
        let shop = visitor.caller.shop;
        let people = api.store.people(shop).await?.into_iter();
        let tokens = api.store.tokens(shop).await?.into_iter();
        let token = |label: &str| words().say("deeds-token").with("label", label).to_string();
        let mut names: HashMap<Uuid, String> =
            people.map(|person| (person.id, person.name)).collect();
        names.extend(tokens.map(|own| (own.id, token(&own.label))));
        let mut undone = HashMap::new();
        for deed in deeds.iter().filter(|deed| deed.what == AuditAction::Undone) {
            let Ok(id) = deed.of.parse::<Uuid>() else { continue };
            let there = deeds.iter().find(|other| other.id == id).cloned();
            let found = match there {
                Some(found) => Some(found),
                None => api.store.deed(shop, id).await?,
            };
            undone.extend(found.map(|found| (id, found)));
        }
        let known = known(api, &visitor.caller).await?;
        Ok(Self { known, names, undone, is_owner: visitor.is_owner() })
    }

    fn line(&self, deed: &AuditEntry) -> Line {
        let who = match deed.by {
            By::Nobody if deed.wrong.is_some() => words().say("deeds-somebody").to_string(),
            By::Nobody => words().say("deeds-program").to_string(),
            By::Person(id) | By::Token(id) => self.names.get(&id).cloned().unwrap_or_default(),
        };
        Line {
            id: deed.id,
            time: deed.at.with_timezone(&self.known.shop.timezone).format("%H:%M").to_string(),
            who,
            text: self.text(deed),
            links: self.links(deed),
            undone: deed.undone_at.is_some(),
            can_be_undone: may_undo(self.is_owner, deed),
        }
    }

    fn text(&self, deed: &AuditEntry) -> String {
        if let Some(wrong) = &deed.wrong {
            return self.wrong_sign_ins(deed, wrong);
        }
        let before = deed.of.parse().ok().and_then(|id| self.undone.get(&id));
        match before.filter(|_| deed.what == AuditAction::Undone) {
            Some(before) => words().say("deeds-undone").with("what", self.text(before)).to_string(),
            None => {
                let is_all = deed.what == AuditAction::SignedOut && deed.of.is_empty();
                let name = match is_all {
                    true => "deed-all-signed-out".to_owned(),
                    false => format!("deed-{}", deed.what.word()),
                };
                words().say(&name).with("of", short(&self.named(deed))).to_string()
            }
        }
    }

    /// Wrong sign-ins; from where is the owner's to see.
    fn wrong_sign_ins(&self, deed: &AuditEntry, wrong: &WrongSignIns) -> String {
        let t = words();
        let whose = self.named(deed);
        let text = match whose.is_empty() {
            true => t.say("deed-sign-in-unknown").with("count", wrong.count).to_string(),
            false => {
                let text = t.say("deed-sign-in-wrong").with("of", whose);
                text.with("count", wrong.count).to_string()
            }
        };
        if !self.is_owner || wrong.address.is_empty() {
            return text;
        }
        format!("{text} {}", t.say("deeds-from").with("address", &wrong.address))
    }

    /// What it was done to, by its name where it has one.
    fn named(&self, deed: &AuditEntry) -> String {
        let product = |id: &str| {
            let own = Id::parse(id).ok().and_then(|id| self.known.products.get(&id));
            own.map_or_else(|| id.to_owned(), |own| own.name.clone())
        };
        match about(deed.what) {
            About::Shelf | About::Product => {
                deed.of.split(", ").map(product).collect::<Vec<_>>().join(", ")
            }
            About::JobType => {
                let id = Id::parse(&deed.of).ok();
                id.map(|id| self.known.job_type_name(&id).to_owned()).unwrap_or_default()
            }
            About::Person | About::Token => {
                let id = deed.of.parse().ok();
                id.and_then(|id: Uuid| self.names.get(&id)).cloned().unwrap_or_default()
            }
            _ => deed.of.clone(),
        }
    }

    /// Where what it was done to can be seen.
    fn links(&self, deed: &AuditEntry) -> Vec<(String, String)> {
        let to = |path: &str| vec![(format!("{path}/{}", segment(&deed.of)), self.named(deed))];
        match about(deed.what) {
            About::Job => to("/jobs"),
            About::Jobs => {
                let all = deed.of.split(", ").filter(|id| !id.is_empty());
                all.map(|id| (format!("/jobs/{id}"), short(id))).collect()
            }
            About::Order => to("/orders"),
            About::Shelf => {
                let all = deed.of.split(", ").filter(|id| !id.is_empty());
                all.map(|id| {
                    let own = Id::parse(id).ok().and_then(|id| self.known.products.get(&id));
                    (
                        format!("/shelf/{}", segment(id)),
                        own.map_or(id.to_owned(), |own| own.name.clone()),
                    )
                })
                .collect()
            }
            About::Product if self.is_owner => to("/setup/products"),
            About::Supplier if self.is_owner => to("/setup/suppliers"),
            About::JobType if self.is_owner => to("/setup/job-types"),
            About::Person if self.is_owner && !deed.of.is_empty() => to("/people"),
            _ => Vec::new(),
        }
    }
}

/// The kind of thing that something is done to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    Job,
    Jobs,
    Order,
    Shelf,
    Product,
    Supplier,
    JobType,
    Person,
    Token,
    Whole,
}

fn about(what: AuditAction) -> About {
    match what {
        AuditAction::JobBooked
        | AuditAction::JobChanged
        | AuditAction::JobStarted
        | AuditAction::JobCancelled
        | AuditAction::JobFinished => About::Job,
        AuditAction::VehicleErased => About::Jobs,
        AuditAction::Poured
        | AuditAction::Opened
        | AuditAction::Mixed
        | AuditAction::Discarded
        | AuditAction::Counted
        | AuditAction::Received => About::Shelf,
        AuditAction::OrderPlaced | AuditAction::OrderChanged => About::Order,
        AuditAction::Product | AuditAction::Offer => About::Product,
        AuditAction::Supplier => About::Supplier,
        AuditAction::JobType | AuditAction::UsageSheet => About::JobType,
        AuditAction::PersonAdded
        | AuditAction::PersonChanged
        | AuditAction::PasswordSet
        | AuditAction::PersonEnded
        | AuditAction::SignInWrong
        | AuditAction::SignInUnlocked
        | AuditAction::SignedOut => About::Person,
        AuditAction::TokenMade | AuditAction::TokenRevoked => About::Token,
        AuditAction::Reversed | AuditAction::Undone | AuditAction::Shop | AuditAction::Imported => {
            About::Whole
        }
    }
}
