//! Going off: what dies when, what that costs, and what to use it on.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use capful_domain::{Container, ContainerState, Ledger, Product, Snapshot};
use capful_forecast::plan::GoingOff;
use capful_store::Change;
use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::api::Api;
use crate::known::known;
use crate::pages::drawing;
use crate::pages::form::Form;
use crate::pages::frame::{Frame, Measures, Place, day_name};
use crate::pages::names::with_vehicles;
use crate::pages::say::words;
use crate::pages::shown::{lead_to, led, page_of, status_of};
use crate::pages::stretch::{Begins, Stretch};
use crate::pages::visitor::Visitor;
use crate::params::WhichPlan;
use crate::plans;
use crate::problem::{Kind, Problem};
use crate::view;
use crate::written::{DiscardBody, Reader, refusal};

/// Days to a use-by from which on nothing is to be done yet.
const FAR_DAYS: i64 = 92;

#[derive(Template)]
#[template(path = "going_off.html")]
struct GoingOffPage {
    frame: Frame,
    day: String,
    groups: Vec<Group>,
    before: Option<String>,
    next: Option<String>,
    /// What is expected to be lost of it all.
    cost: String,
    wrong: Option<Problem>,
}

/// Containers that are told of together.
struct Group {
    id: &'static str,
    title: String,
    text: String,
    is_past: bool,
    lines: Vec<Line>,
    /// Those whose use-by is months away: nothing is to be done about them yet.
    far: Vec<Line>,
}

/// A container.
struct Line {
    container: String,
    product: String,
    name: String,
    drawing: String,
    life: String,
    /// What is left and until when it is good.
    text: String,
    /// What is lost of it, at cost.
    cost: Option<String>,
    advice: String,
}

/// `GET /going-off`
pub(crate) async fn get(
    State(api): State<Api>,
    visitor: Visitor,
    uri: Uri,
) -> Result<Response, Problem> {
    shown(&api, &visitor, Begins::of(&uri), None).await
}

/// `POST /going-off`: a container was thrown away.
pub(crate) async fn post(State(api): State<Api>, form: Form) -> Result<Response, Problem> {
    match discard(&api, &form).await {
        Err(wrong) if matches!(wrong.kind, Kind::BadBody | Kind::Refused) => {
            shown(&api, &form.visitor, Begins::default(), Some(wrong)).await
        }
        other => other,
    }
}

async fn discard(api: &Api, form: &Form) -> Result<Response, Problem> {
    let body: DiscardBody =
        form.fields.body(&["product", "container", "reason", "quantity", "unit", "at"], &[])?;
    let known = known(api, &form.visitor.caller).await?;
    let asked = form.asked(api);
    let mut reader = Reader::new(api, &known, asked.now);
    let read = body.read(&mut reader).map(Change::Discard);
    let change = reader.end(read)?;
    let done = api.store.change(&asked, &change, |outcome| lead_to("/going-off", outcome)).await;
    Ok(led(&done.map_err(|error| refusal(error, None))?))
}

async fn shown(
    api: &Api,
    visitor: &Visitor,
    from: Begins,
    wrong: Option<Problem>,
) -> Result<Response, Problem> {
    let (snapshot, ledger) = view::books(api, &visitor.caller, None).await?;
    let plan = plans::planned(api, &visitor.caller, WhichPlan::default()).await?;
    let view = View::of(&snapshot, &ledger);
    let cost: Decimal = plan.going_off.iter().map(|going| going.waste_cost).sum();
    let mut all: Vec<&GoingOff> = plan.going_off.iter().collect();
    all.sort_by_key(|going| KINDS.iter().position(|kind| *kind == kind_of(going)));
    let Stretch { rows, before, next } = from.stretch(all, "/going-off");
    let title = words().say("off-title");
    let status = status_of(&wrong);
    let page = GoingOffPage {
        frame: Frame::of(api, visitor, Place::GoingOff, title, "/going-off").await?,
        day: snapshot.day.format("%A %-d %B").to_string(),
        groups: view.groups(&rows),
        before,
        next,
        cost: view.measures.money_of(cost),
        wrong,
    };
    page_of(status, &page)
}

/// The shelf as it stands.
struct View<'v> {
    snapshot: &'v Snapshot,
    containers: HashMap<&'v str, &'v Container>,
    measures: Measures,
}

impl<'v> View<'v> {
    fn of(snapshot: &'v Snapshot, ledger: &'v Ledger) -> Self {
        let containers = ledger.containers().iter();
        Self {
            snapshot,
            containers: containers.map(|own| (own.id.as_str(), own)).collect(),
            measures: Measures::of(&snapshot.facts.shop),
        }
    }

    /// Those that are told of together.
    fn groups(&self, all: &[&GoingOff]) -> Vec<Group> {
        let group = |id: &'static str| {
            let own = all.iter().copied().filter(|going| kind_of(going) == id);
            let (far, near): (Vec<_>, Vec<_>) = own.partition(|going| going.days_left > FAR_DAYS);
            let lines = |own: Vec<&GoingOff>| -> Vec<Line> {
                own.into_iter().filter_map(|going| self.line(going)).collect()
            };
            let (title, text) = (format!("off-{id}"), format!("off-{id}-text"));
            Group {
                id,
                title: words().say(&title).to_string(),
                text: words().say(&text).to_string(),
                is_past: id == "past",
                lines: lines(near),
                far: lines(far),
            }
        };
        let groups = KINDS.map(group).into_iter();
        groups.filter(|group| !(group.lines.is_empty() && group.far.is_empty())).collect()
    }

    fn line(&self, going: &GoingOff) -> Option<Line> {
        let container = self.containers.get(going.container.as_str())?;
        let mut products = self.snapshot.facts.products.iter();
        let product = products.find(|product| product.id == container.product)?;
        let (t, day) = (words(), self.snapshot.day);
        let text = self.left(container, product, going);
        let began = match &container.opened {
            Some(opened) => opened.on,
            None => self.snapshot.facts.shop.day_of(container.came_at),
        };
        let name = if going.days_left < 0 { "off-lost" } else { "off-expected" };
        let cost = t.say(name).with("cost", self.measures.money_of(going.waste_cost)).to_string();
        Some(Line {
            container: going.container.clone(),
            product: going.product.clone(),
            name: product.name.clone(),
            drawing: drawing::container(container, product, day, &text),
            life: drawing::life(began, going.use_by, day, &text),
            text,
            cost: Some(cost).filter(|_| going.waste_cost > Decimal::ZERO),
            advice: with_vehicles(&going.advice, &self.snapshot.facts.jobs),
        })
    }

    /// What is left in a container, and until when it is good.
    fn left(&self, container: &Container, product: &Product, going: &GoingOff) -> String {
        let t = words();
        let left = container.mix.map_or(container.left, |ratio| ratio.mix_of(container.left));
        let amount = self.measures.quantity(left, product);
        let what = match container.mix {
            Some(ratio) => {
                t.say("off-mix").with("amount", amount).with("water", ratio.water()).to_string()
            }
            None if container.state() == ContainerState::Sealed => {
                t.say("off-still-sealed").with("amount", amount).to_string()
            }
            None => t.say("off-left").with("amount", amount).to_string(),
        };
        let name = match going.days_left {
            ..0 => "off-was-good",
            0 => "off-today",
            _ => "off-good",
        };
        t.say(name)
            .with("what", what)
            .with("days", going.days_left.abs())
            .with("day", far_day(going.use_by, self.snapshot.day))
            .to_string()
    }
}

/// Past ones first, then the open ones, then the sealed.
const KINDS: [&str; 3] = ["past", "open", "sealed"];

/// Which of them a container is among.
fn kind_of(going: &GoingOff) -> &'static str {
    match (going.days_left, going.state) {
        (..0, _) => "past",
        (_, "open") => "open",
        _ => "sealed",
    }
}

/// A day that may be years ahead.
fn far_day(day: NaiveDate, today: NaiveDate) -> String {
    match (day - today).num_days() {
        ..180 => day_name(day, today),
        _ => day.format("%-d %b %Y").to_string(),
    }
}
