//! Where the shop stands: what is set up, and the next step of each part.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, JobType, Offer, SheetRow, Supplier, Word};

use crate::api::Api;
use crate::known::known;
use crate::page;
use crate::pages::frame::{Frame, Place};
use crate::pages::say::words;
use crate::pages::shown::page;
use crate::pages::visitor::Owner;
use crate::problem::Problem;

#[derive(Template)]
#[template(path = "setup/overview.html")]
struct OverviewPage {
    frame: Frame,
    parts: Vec<Part>,
    /// Whether a kind of row that the starting set has is empty.
    offers_set: bool,
}

/// One part of the setup.
struct Part {
    name: String,
    path: &'static str,
    /// How much is there.
    stands: String,
    /// What to do next.
    next: String,
    is_done: bool,
}

/// `GET /setup`
pub(crate) async fn get(
    State(api): State<Api>,
    Owner(visitor): Owner,
) -> Result<Response, Problem> {
    let t = words();
    let known = known(&api, &visitor.caller).await?;
    let suppliers = page::whole::<Supplier>(&api, &visitor.caller).await?.len();
    let offers = page::whole::<Offer>(&api, &visitor.caller).await?;
    let types = page::whole::<JobType>(&api, &visitor.caller).await?;
    let sheet = page::whole::<SheetRow>(&api, &visitor.caller).await?;
    let offered: BTreeSet<&Id> = offers.iter().map(|listed| &listed.row.product).collect();
    let sheeted: BTreeSet<&Id> = sheet.iter().map(|listed| &listed.row.job_type).collect();
    let unoffered = known.products.keys().filter(|id| !offered.contains(id)).count();
    let empty = types.iter().filter(|listed| !sheeted.contains(&listed.row.id)).count();
    let shop = &known.shop;
    let day = t.say(&format!("weekday-{}", shop.order_weekday.word())).to_string();
    let zone = t.say("setup-shop-stands").with("zone", shop.timezone.name()).with("day", day);
    let products = Kind { name: "setup-products", count: known.products.len(), rows: 0 };
    let job_types = Kind { name: "setup-types", count: types.len(), rows: sheet.len() };
    let suppliers = Kind { name: "setup-suppliers", count: suppliers, rows: offers.len() };
    let parts = vec![
        Part {
            name: t.say("setup-shop").to_string(),
            path: "/setup/shop",
            stands: zone.to_string(),
            next: t.say("setup-shop-next").to_string(),
            is_done: true,
        },
        products.part("products-title", "/setup/products", unoffered),
        job_types.part("job-types-title", "/setup/job-types", empty),
        suppliers.part("suppliers-title", "/setup/suppliers", usize::from(offers.is_empty())),
    ];
    let offers_set = known.products.is_empty() || types.is_empty();
    let frame = Frame::of(&api, &visitor, Place::More, t.say("setup-title"), "/setup").await?;
    page(&OverviewPage { frame, parts, offers_set })
}

/// A kind of row: how many there are, and how many rows of another kind hang on them.
struct Kind {
    /// What the names of its texts begin with.
    name: &'static str,
    count: usize,
    rows: usize,
}

impl Kind {
    /// How it stands, where so many of it are not complete.
    fn part(&self, title: &str, path: &'static str, left: usize) -> Part {
        let t = words();
        let next = match (self.count, left) {
            (0, _) => "none",
            (_, 0) => "all",
            _ => "some",
        };
        let stands = t.say(self.name).with("count", self.count).with("rows", self.rows);
        Part {
            name: t.say(title).to_string(),
            path,
            stands: stands.to_string(),
            next: t.say(&format!("{}-{next}", self.name)).with("count", left).to_string(),
            is_done: self.count > 0 && left == 0,
        }
    }
}
