//! What does not fit the bar: the rest of the house.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::api::Api;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Visitor;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/more.html")]
struct MorePage {
    frame: Frame,
    links: Vec<(&'static str, String, String)>,
}

/// Address, text, and whether only owners go there.
const LINKS: [(&str, &str, bool); 10] = [
    ("/orders", "more-orders", false),
    ("/count", "more-count", false),
    ("/labels", "more-labels", false),
    ("/usage", "more-usage", false),
    ("/costs", "more-costs", true),
    ("/backtest", "more-backtest", true),
    ("/setup", "more-setup", true),
    ("/people", "more-people", true),
    ("/people/me", "more-me", false),
    ("/deeds", "more-deeds", false),
];

/// `GET /more`
pub(crate) async fn get(State(api): State<Api>, visitor: Visitor) -> Result<Response, Problem> {
    let t = words();
    let own = LINKS.iter().filter(|(_, _, owners)| visitor.is_owner() || !owners);
    let text = |(path, name, _): &(&'static str, &str, bool)| {
        let help = t.say(&format!("{name}-text")).to_string();
        (*path, t.say(name).to_string(), help)
    };
    let links = own.map(text).collect();
    let frame = Frame::of(&api, &visitor, Place::More, t.say("nav-more"), "/more").await?;
    page(&MorePage { frame, links })
}
