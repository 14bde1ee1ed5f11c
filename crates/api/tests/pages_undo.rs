//! Undo, tried for every kind of change that a page makes: whatever was done, all is as it was.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use capful_domain::facts::{Order, OrderStatus};
use capful_domain::{Facts, Job, JobStatus};
use capful_store::{AuditAction, Role};
use chrono::TimeDelta;
use common::people::{Shown, Visitor, value};
use common::{TestShop, two_gulls};
use reqwest::StatusCode;

/// Forms that write nothing which is undone: who comes in and goes out, what undoes, and people and
/// tokens, which stay as they are until the owner changes them again.
const NOT_UNDONE: [&str; 17] = [
    "/backtest",
    "/sign-in",
    "/sign-out",
    "/welcome",
    "/undo/{deed}",
    "/people",
    "/people/me",
    "/people/tokens",
    "/people/tokens/{id}/revoke",
    "/people/{id}",
    "/people/{id}/password",
    "/people/{id}/end",
    "/people/me/sessions/{session}/end",
    "/people/sign-out",
    "/people/{id}/sessions/{session}/end",
    "/people/{id}/sign-out",
    "/jobs/{id}/vehicle",
];

/// Paths of pages that take forms, as the router has them.
fn routes() -> BTreeSet<String> {
    let mut routes = BTreeSet::new();
    let mut directories = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src/pages")];
    while let Some(directory) = directories.pop() {
        for entry in fs::read_dir(directory).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                directories.push(path);
                continue;
            }
            let text = fs::read_to_string(path).unwrap();
            for route in text.split(".route(\"").skip(1) {
                let (path, rest) = route.split_once('"').unwrap();
                let methods = rest.split(".route(").next().unwrap();
                let methods = methods.lines().next().unwrap();
                if methods.contains("post(") {
                    routes.insert(path.to_owned());
                }
            }
        }
    }
    assert!(routes.len() > 20, "{routes:?}");
    routes
}

/// Whether a path is one of a route.
fn is_of(path: &str, route: &str) -> bool {
    let (path, route): (Vec<_>, Vec<_>) = (path.split('/').collect(), route.split('/').collect());
    if route.last().is_some_and(|part| part.starts_with("{*")) {
        return path.len() >= route.len() && path[..route.len() - 1] == route[..route.len() - 1];
    }
    let same = |(path, route): (&&str, &&str)| route.starts_with('{') || path == route;
    path.len() == route.len() && path.iter().zip(&route).all(same)
}

/// What is written down, whatever the order of the rows that were set up, and whether a receipt
/// says what its product holds anyway.
async fn facts(shop: &TestShop) -> Facts {
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    for receipt in &mut facts.receipts {
        let product = facts.products.iter().find(|own| own.id == receipt.product).unwrap();
        let own = product.container_size.number;
        receipt.container_size = receipt.container_size.filter(|said| *said != own);
    }
    facts.usage_sheet.sort_by_key(|row| format!("{row:?}"));
    facts
}

/// Does something by forms, undoes it, and finds everything as it was.
struct Trying {
    shop: TestShop,
    owner: Visitor,
    tried: BTreeSet<String>,
}

impl Trying {
    async fn in_a_shop() -> Self {
        let shop = TestShop::open().await;
        let owner = shop.signed_in(Role::Owner).await;
        Self { shop, owner, tried: BTreeSet::new() }
    }

    /// Sends a form that changes something; gives its deed.
    async fn does(&mut self, path: &str, fields: &[(&str, &str)]) -> String {
        self.shop.pass(TimeDelta::minutes(1));
        let before = facts(&self.shop).await;
        let shown = self.owner.sends(path, fields).await;
        let deed = self.deed_of(path, &shown);
        assert_ne!(facts(&self.shop).await, before, "{path} changes nothing");
        deed
    }

    fn deed_of(&mut self, path: &str, shown: &Shown) -> String {
        assert_eq!(shown.status, StatusCode::SEE_OTHER, "{path}: {}", shown.html);
        self.tried.insert(path.to_owned());
        let deed = shown.to.split_once("done=").unwrap_or_else(|| panic!("{path}: {}", shown.to));
        deed.1.split('#').next().unwrap().to_owned()
    }

    /// Undoes it as the notice on the page does, where the page offers that.
    async fn undoes(&mut self, path: &str, deed: &str) {
        let told = self.owner.sees(&format!("/deeds?done={deed}")).await;
        let (notice, list) = told.split_once("<main").unwrap();
        assert!(notice.contains(&format!("/undo/{deed}")), "{path}: {notice}");
        assert!(list.contains(&format!("/undo/{deed}")), "{path}: {list}");
        let undone = self.owner.does(&format!("/undo/{deed}"), &[("then", "/deeds")]).await;
        assert!(undone.contains("Undone."), "{path}: {undone}");
        let checked = self.shop.store.check(self.shop.shop).await.unwrap();
        assert!(checked.wrong.is_empty(), "{path}: {:?}", checked.wrong);
    }

    /// Does it, and undoes it: all is as it was.
    async fn tries(&mut self, path: &str, fields: &[(&str, &str)]) {
        let before = facts(&self.shop).await;
        let deed = self.does(path, fields).await;
        self.undoes(path, &deed).await;
        assert_eq!(facts(&self.shop).await, before, "{path}");
    }

    async fn version(&self, page: &str) -> String {
        value(&self.owner.sees(page).await, "name=\"version\" value=\"")
    }

    /// The same of a page that carries the version it is of.
    async fn tries_edit(&mut self, page: &str, path: &str, fields: &[(&str, &str)]) {
        let version = self.version(page).await;
        let with = [fields, &[("version", &version)]].concat();
        self.tries(path, &with).await;
    }

    async fn job(&self, id: &str) -> Job {
        self.shop.store.get::<Job>(self.shop.shop, id).await.unwrap().row
    }

    async fn order(&self, id: &str) -> Option<OrderStatus> {
        self.shop.store.get::<Order>(self.shop.shop, id).await.unwrap().row.status
    }
}

const WASH: [(&str, &str); 4] = [
    ("planned_on", "2026-03-05"),
    ("job_types", "maintenance"),
    ("size", "large"),
    ("condition", "4"),
];

async fn jobs(trying: &mut Trying) {
    let book = [&WASH[..], &[("do", "book")]].concat();
    let deed = trying.does("/jobs/new", &book).await;
    trying.undoes("/jobs/new", &deed).await;
    // What was booked is told of later: the job stays in the list, called off.
    let booked = facts(&trying.shop).await.jobs.pop().unwrap();
    assert_eq!(booked.status, JobStatus::Cancelled);
    trying.tries_edit("/jobs/J-4", "/jobs/J-4", &WASH).await;
    trying.tries_edit("/jobs/J-4", "/jobs/J-4/start", &[]).await;
    trying.tries_edit("/jobs/J-4", "/jobs/J-4/cancel", &[]).await;
    trying.tries("/jobs/J-4/finish", &[("at", "")]).await;
    assert_eq!(trying.job("J-4").await.status, JobStatus::Booked);
    let pour = [("product", "iron-remover"), ("quantity", "2"), ("measure", "caps")];
    trying.tries("/jobs/J-2/pour", &pour).await;
    let learned = [("job_type", "maintenance"), ("product", "wash"), ("quantity", "45")];
    trying.tries("/usage", &learned).await;
}

async fn the_shelf(trying: &mut Trying) {
    let shelf = "/shelf/wash";
    let amount = [("quantity", "100"), ("measure", "mL")];
    let with = |more: &[(&'static str, &'static str)]| [&amount[..], more].concat();
    trying.tries(shelf, &with(&[("act", "pour")])).await;
    trying.tries(shelf, &with(&[("act", "mix"), ("water", "5")])).await;
    trying.tries(shelf, &with(&[("act", "count"), ("sealed", "0")])).await;
    trying.tries(shelf, &[("act", "discard"), ("container", "R-1/1"), ("reason", "spilled")]).await;
    trying.tries(shelf, &[("act", "receive"), ("containers", "2"), ("lot", "W1")]).await;
    trying.tries("/shelf/coating", &[("act", "open")]).await;
    trying.tries("/containers/R-4/1", &[("act", "open")]).await;
    trying.tries("/count", &with(&[("product", "wash"), ("sealed", "0")])).await;
    let past = [("product", "coating"), ("container", "R-4/1"), ("reason", "expired")];
    trying.tries("/going-off", &past).await;
}

async fn orders(trying: &mut Trying) {
    let row = [("supplier", "north-dock"), ("product", "wash"), ("code", "ND-1"), ("packs", "2")];
    let place = [&row[..], &[("place", "north-dock")]].concat();
    let deed = trying.does("/order", &place).await;
    let placed = facts(&trying.shop).await.orders.pop().unwrap().id.to_string();
    trying.tries(&format!("/orders/{placed}/cancel"), &[]).await;
    trying.undoes("/order", &deed).await;
    assert_eq!(trying.order(&placed).await, Some(OrderStatus::Cancelled));
    let came = [("product", "coating"), ("containers", "1"), ("unit_cost", "63.00")];
    trying.tries("/orders/O-1/receive", &came).await;
    trying.tries("/orders/O-1/end", &[]).await;
    // What came and that nothing more will are one thing that was done, and undone.
    let deeds = || trying.shop.store.deeds(trying.shop.shop, None, 500);
    let before = deeds().await.unwrap().len();
    let last = [&came[..], &[("rest", "1")]].concat();
    let (shop, own) = (&trying.shop, facts(&trying.shop).await);
    let shown = trying.owner.sends("/orders/O-1/receive", &last).await;
    assert_eq!(trying.order("O-1").await, Some(OrderStatus::Received));
    assert_eq!(facts(shop).await.receipts.len(), own.receipts.len() + 1);
    assert_eq!(deeds().await.unwrap().len(), before + 1);
    let deed = trying.deed_of("/orders/O-1/receive", &shown);
    trying.undoes("/orders/O-1/receive", &deed).await;
    assert_eq!(facts(&trying.shop).await, own);
}

async fn the_setup(trying: &mut Trying) {
    let settings = [
        ("name", "Three Gulls"),
        ("timezone", "America/Halifax"),
        ("units", "us"),
        ("order_weekday", "tue"),
        ("closed", "sun"),
        ("stall_cost", "75"),
        ("holding_rate", "0.3"),
        ("service", "0.9"),
        ("sizes.small", "0.8"),
        ("sizes.medium", "1"),
        ("sizes.large", "1.25"),
        ("sizes.oversize", "1.5"),
        ("conditions.1", "0.7"),
        ("conditions.2", "0.85"),
        ("conditions.3", "1"),
        ("conditions.4", "1.25"),
        ("conditions.5", "1.6"),
    ];
    trying.tries_edit("/setup/shop", "/setup/shop", &settings).await;
    let soap = [("name", "Wheel soap"), ("container_size", "2"), ("unit", "L"), ("form", "ready")];
    trying.tries("/setup/products/new", &soap).await;
    let smaller = [("name", "Soap"), ("container_size", "900"), ("unit", "mL"), ("open_days", "9")];
    let smaller = [&smaller[..], &[("form", "concentrate")]].concat();
    trying.tries_edit("/setup/products/wash", "/setup/products/wash", &smaller).await;
    let ratio = [("label", "wheels"), ("water", "5"), ("version", "0")];
    trying.tries("/setup/products/wash/ratios", &ratio).await;
    let quay = [("name", "East Quay"), ("lead_days", "2")];
    trying.tries("/setup/suppliers/new", &quay).await;
    let dock = "/setup/suppliers/north-dock";
    trying.tries_edit(dock, dock, &[("name", "North Dock"), ("lead_days", "9")]).await;
    let offer = [("product", "wash"), ("pack", "6"), ("price", "200"), ("version", "0")];
    trying.tries(&format!("{dock}/offers"), &offer).await;
    let row = [("product", "wash"), ("quantity", "15"), ("unit", ""), ("water", "")];
    let rest = [("share_of_jobs", ""), ("log_sd", "")];
    let rinse = [&[("name", "Quick rinse")][..], &row, &rest].concat();
    trying.tries("/setup/job-types/new", &rinse).await;
    let own = "/setup/job-types/ceramic";
    trying.tries_edit(own, own, &rinse).await;
    let set = [("job_type", "wash"), ("product", "wash-shampoo"), ("product", "snow-foam")];
    trying.tries("/setup/start", &set).await;
    // A file that only sets up is undone too.
    let before = facts(&trying.shop).await;
    let file = b"id,name,unit,container_size\nsoap,Soap,L,3.8\n";
    let shown = trying.owner.uploads("/setup/folder", "products.csv", file).await;
    let deed = trying.deed_of("/setup/folder", &shown);
    assert_ne!(facts(&trying.shop).await, before);
    trying.undoes("/setup/folder", &deed).await;
    assert_eq!(facts(&trying.shop).await, before);
}

#[tokio::test]
async fn whatever_a_page_does_is_undone() {
    let mut trying = Trying::in_a_shop().await;
    jobs(&mut trying).await;
    the_shelf(&mut trying).await;
    orders(&mut trying).await;
    the_setup(&mut trying).await;
    let tried = |route: &String| trying.tried.iter().any(|path| is_of(path, route));
    let is_excused = |route: &String| NOT_UNDONE.contains(&route.as_str());
    let left: Vec<String> =
        routes().into_iter().filter(|route| !tried(route) && !is_excused(route)).collect();
    assert!(left.is_empty(), "forms whose undo is not tried: {left:?}");
}

#[tokio::test]
async fn what_is_needed_since_is_not_taken_away() {
    let mut trying = Trying::in_a_shop().await;
    let soap = [("name", "Wheel soap"), ("container_size", "2"), ("unit", "L"), ("form", "ready")];
    let product = trying.does("/setup/products/new", &soap).await;
    let came = [("act", "receive"), ("containers", "1"), ("unit_cost", "9")];
    trying.does("/shelf/wheel-soap", &came).await;
    let refused = trying.owner.is_refused(&format!("/undo/{product}"), &[]).await;
    assert!(
        refused.contains("product wheel-soap is needed by what was written since"),
        "{refused}"
    );

    let rinse = trying.does("/setup/job-types/new", &[("name", "Quick rinse")]).await;
    let book = [&WASH[..1], &[("job_types", "quick-rinse"), ("do", "book")], &WASH[2..]].concat();
    trying.does("/jobs/new", &book).await;
    let refused = trying.owner.is_refused(&format!("/undo/{rinse}"), &[]).await;
    assert!(refused.contains("is of job type quick-rinse"), "{refused}");

    let dock = "/setup/suppliers/north-dock";
    let edit = async |trying: &mut Trying, name| {
        let version = trying.version(dock).await;
        trying.does(dock, &[("name", name), ("lead_days", "4"), ("version", &version)]).await
    };
    let first = edit(&mut trying, "North Pier").await;
    let second = edit(&mut trying, "South Pier").await;
    let refused = trying.owner.is_refused(&format!("/undo/{first}"), &[]).await;
    assert!(refused.contains("supplier north-dock was changed since"), "{refused}");
    trying.undoes(dock, &second).await;
    trying.undoes(dock, &first).await;
    let supplier = &facts(&trying.shop).await.suppliers[0];
    assert_eq!(supplier, &two_gulls().suppliers[0]);
}

#[tokio::test]
async fn a_helper_undoes_what_a_helper_may_do() {
    let mut trying = Trying::in_a_shop().await;
    let helper = trying.shop.signed_in(Role::Helper).await;
    let soap = [("name", "Wheel soap"), ("container_size", "2"), ("unit", "L"), ("form", "ready")];
    let product = trying.does("/setup/products/new", &soap).await;
    let pour = [("act", "pour"), ("quantity", "5"), ("measure", "mL")];
    let poured = trying.does("/shelf/wash", &pour).await;
    let list = helper.sees("/deeds").await;
    assert!(list.contains(&format!("/undo/{poured}")), "{list}");
    assert!(!list.contains(&format!("/undo/{product}")), "{list}");
    let refused = helper.sends(&format!("/undo/{product}"), &[]).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    assert!(refused.html.contains("the owner’s to undo"), "{}", refused.html);
    helper.does(&format!("/undo/{poured}"), &[("then", "/deeds")]).await;
    // A program, likewise.
    let path = format!("/deeds/{product}/undo");
    let program = trying.shop.helper().await;
    let refused = program.change(reqwest::Method::POST, &path).send().await.unwrap();
    common::problem(refused, 403, "scope-too-narrow").await;
    trying.shop.owner().await.post(&path, &serde_json::Value::Null).await;
    assert_eq!(facts(&trying.shop).await.products.len(), two_gulls().products.len());
}

#[tokio::test]
async fn people_and_tokens_stand_among_who_did_what() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let password = ("password", "nine lives of a towel");
    let bo = [("name", "Bo"), ("sign_in", "bo"), ("role", "helper"), password];
    owner.does("/people", &bo).await;
    let person = shop.store.signing_in("bo").await.unwrap().unwrap().person.id;
    let path = format!("/people/{person}");
    owner.does(&path, &[("name", "Bo Finch"), ("role", "helper")]).await;
    owner.does(&format!("{path}/password"), &[("password", "ten lives of a sponge")]).await;
    owner.does(&format!("{path}/end"), &[]).await;
    owner.sends("/people/tokens", &[("label", "till"), ("scope", "read")]).await;
    let token = shop.store.tokens(shop.shop).await.unwrap()[0].id;
    owner.does(&format!("/people/tokens/{token}/revoke"), &[]).await;
    owner.does(&format!("/people/tokens/{token}/revoke"), &[]).await;
    let deeds = shop.store.deeds(shop.shop, None, 6).await.unwrap();
    let told: Vec<AuditAction> = deeds.iter().map(|deed| deed.what).collect();
    assert_eq!(
        told,
        [
            AuditAction::TokenRevoked,
            AuditAction::TokenMade,
            AuditAction::PersonEnded,
            AuditAction::PasswordSet,
            AuditAction::PersonChanged,
            AuditAction::PersonAdded,
        ]
    );
    let page = owner.sees("/deeds").await;
    for said in [
        "Bo Finch can sign in.",
        "Bo Finch has another password.",
        "Bo Finch cannot sign in any more.",
        "Made: token till.",
        "Revoked: token till.",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    assert!(page.contains("Owner") && page.contains(&format!("href=\"{path}\"")), "{page}");
    assert!(!page.contains(&format!("/undo/{}", deeds[0].id)), "{page}");
}
