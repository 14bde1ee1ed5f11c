//! The backtest, for who owns the shop: how the plan would have done in past weeks. It takes a
//! while, so it is made when it is asked for, and kept for the day.

use std::sync::Arc;
use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use capful_domain::Facts;
use capful_forecast::backtest::{Backtest, SpanScore, Stalled};

use super::amounts::percent;
use super::form::Form;
use super::frame::{Frame, Measures, Place};
use super::say::words;
use super::shown::page;
use super::visitor::Owner;
use crate::api::Api;
use crate::backtests::{self, Standing};
use crate::problem::{Kind, Problem};
use crate::view;

/// How long whoever asks waits for it before the page says that it is being made.
const PATIENCE: Duration = Duration::from_secs(15);

#[derive(Template)]
#[template(path = "backtest.html")]
struct BacktestPage {
    frame: Frame,
    is_making: bool,
    /// Why there is none.
    too_short: Option<String>,
    told: Option<Told>,
}

/// A backtest in words.
struct Told {
    weeks: String,
    scores: Vec<Score>,
    /// Name, the list's, the shop's own.
    costs: Vec<(String, String, String)>,
    stalled: Vec<String>,
    yardstick: String,
    assumes: &'static str,
}

/// How well one span was foretold.
struct Score {
    name: String,
    error: String,
    bands: String,
}

/// `GET /backtest`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let standing = backtests::today(&api, &visitor.caller).await?;
    let facts = view::snapshot(&api, &visitor.caller, None).await?.facts;
    let (mut too_short, mut told) = (None, None);
    let is_making = matches!(standing, Some(Standing::Making));
    match standing {
        Some(Standing::TooShort(text)) => too_short = Some(text),
        Some(Standing::Made(made)) => told = Some(Told::of(&made, &facts)),
        Some(Standing::Making) | None => {}
    }
    let title = words().say("backtest-title");
    let frame = Frame::of(&api, &visitor, Place::More, title, "/backtest").await?;
    page(&BacktestPage { frame, is_making, too_short, told })
}

/// `POST /backtest`: makes it.
pub(crate) async fn post(State(api): State<Api>, form: Form) -> Result<Response, Problem> {
    if !form.visitor.is_owner() {
        let detail = words().say("backtest-owner").to_string();
        return Err(Problem::new(Kind::ScopeTooNarrow, detail));
    }
    let caller = form.visitor.caller;
    let own = api.clone();
    let making = tokio::spawn(async move { backtests::make(&own, &caller).await });
    if let Ok(made) = tokio::time::timeout(PATIENCE, making).await {
        made.map_err(|error| Problem::internal(&error))??;
    }
    Ok(Redirect::to("/backtest").into_response())
}

impl Told {
    fn of(told: &Arc<Backtest>, facts: &Facts) -> Self {
        let measures = Measures::of(&facts.shop);
        let followed = &told.followed;
        let (list, shop) = (&followed.list, &followed.shop);
        let name = |name: &str| words().say(name).to_string();
        let money = |amount| measures.money_of(amount);
        let unknown = || name("backtest-unknown");
        let text = words().say("backtest-weeks").with("weeks", told.weeks.len());
        let text = text.with("from", told.from.format("%-d %B %Y"));
        let lines = [
            ("backtest-orders", list.orders.to_string(), shop.orders.to_string()),
            ("backtest-freight", money(list.freight), money(shop.freight)),
            ("backtest-waste", money(list.waste), money(shop.waste)),
            ("backtest-holding", money(list.holding), money(shop.holding)),
            (
                "backtest-stalls",
                list.stalls.map_or_else(unknown, money),
                shop.stalls.map_or_else(unknown, money),
            ),
            ("backtest-together", money(list.avoidable), money(shop.avoidable)),
            ("backtest-stock", money(list.stock_at_end), money(shop.stock_at_end)),
        ];
        Self {
            weeks: text.to_string(),
            scores: told.spans.iter().map(Score::of).collect(),
            costs: lines.map(|(line, list, shop)| (name(line), list, shop)).into(),
            stalled: followed.stalled.iter().map(|own| stalled(own, facts, measures)).collect(),
            yardstick: told.yardstick.clone(),
            assumes: followed.assumes,
        }
    }
}

/// An error as a share of what was taken, which may be more than all of it.
fn off_by(error: f64) -> String {
    format!("{:.0}\u{a0}%", 100.0 * error)
}

impl Score {
    fn of(score: &SpanScore) -> Self {
        let t = words();
        let of = |name: &str| score.methods.iter().find(|own| own.method == name);
        let plan = of("plan").map_or(0.0, |own| own.error);
        let sheet = of("sheet").map_or(0.0, |own| own.error);
        let kind = if score.yardstick == "known" { "backtest-known" } else { "backtest-estimated" };
        let kind = t.say(kind).to_string();
        let name = t.say("backtest-span").with("days", score.days).with("kind", kind);
        let error = t.say("backtest-error").with("plan", off_by(plan));
        let bands = score.bands.iter().map(|own| {
            let band = t.say("backtest-band").with("said", percent(own.said));
            band.with("held", percent(own.held)).to_string()
        });
        Self {
            name: name.with("cases", score.cases).to_string(),
            error: error.with("sheet", off_by(sheet)).to_string(),
            bands: bands.collect::<Vec<_>>().join("; "),
        }
    }
}

/// A job that would have stalled, in a sentence.
fn stalled(own: &Stalled, facts: &Facts, measures: Measures) -> String {
    let job = facts.jobs.iter().find(|job| job.id.as_str() == own.job);
    let job = job.and_then(|job| job.vehicle.clone()).unwrap_or_else(|| own.job.clone());
    let product = facts.products.iter().find(|product| product.id.as_str() == own.product);
    let product = product.map_or(own.product.as_str(), |product| product.name.as_str());
    let text = words().say("backtest-stalled").with("job", job).with("product", product);
    let text = text.with("day", own.on.format("%a %-d %b %Y"));
    text.with("amount", measures.amount(&own.missing)).to_string()
}
