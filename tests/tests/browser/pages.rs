//! Every page that there is, with an address of each: what is held of all pages is held of these.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use capful_domain::{Job, JobStatus};
use capful_store::Role;

use crate::stage::Shop;

/// Routes that answer with something else than a page.
const NO_PAGES: [&str; 8] = [
    "/assets/{name}",
    "/backtest.svg",
    "/capful.webmanifest",
    "/session",
    "/setup/folder/shop.zip",
    "/shelf/{product}/demand.svg",
    "/usage.svg",
    "/worker.js",
];

/// Pages of a shop that nobody has to sign in for; the first run's own has no shop yet.
pub const OPEN: [&str; 3] = ["/offline", "/sign-in", "/welcome"];

/// Pages that only the owner sees.
pub const OWNERS: [&str; 18] = [
    "/backtest",
    "/costs",
    "/people",
    "/people/tokens",
    "/people/{id}",
    "/setup",
    "/setup/folder",
    "/setup/job-types",
    "/setup/job-types/new",
    "/setup/job-types/{id}",
    "/setup/products",
    "/setup/products/new",
    "/setup/products/{id}",
    "/setup/shop",
    "/setup/start",
    "/setup/suppliers",
    "/setup/suppliers/new",
    "/setup/suppliers/{id}",
];

/// A page of the demo shop.
pub struct Page {
    /// The route, as the router has it.
    pub route: &'static str,
    /// An address.
    pub path: String,
}

impl Page {
    /// Whether a helper is told that it is the owner's.
    pub fn is_owners(&self) -> bool {
        OWNERS.contains(&self.route)
    }
}

/// Pages whose address is the route itself.
const PLAIN: [&str; 28] = [
    "/",
    "/backtest",
    "/costs",
    "/count",
    "/deeds",
    "/going-off",
    "/jobs",
    "/jobs/new",
    "/labels",
    "/more",
    "/order",
    "/orders",
    "/people",
    "/people/me",
    "/people/tokens",
    "/setup",
    "/setup/folder",
    "/setup/job-types",
    "/setup/job-types/new",
    "/setup/products",
    "/setup/products/new",
    "/setup/shop",
    "/setup/start",
    "/setup/suppliers",
    "/setup/suppliers/new",
    "/shelf",
    "/usage",
    "/jobs?all=1",
];

/// Routes whose address names something.
const NAMING: [&str; 13] = [
    "/containers/{*id}",
    "/jobs/{id}",
    "/jobs/{id}/finish",
    "/jobs/{id}/record",
    "/jobs/{id}/vehicle",
    "/orders/{id}",
    "/orders/{id}/print",
    "/people/{id}",
    "/setup/job-types/{id}",
    "/setup/products/{id}",
    "/setup/suppliers/{id}",
    "/shelf/{product}",
    "/trace/lots/{lot}",
];

/// Every page of the demo shop for which somebody signs in.
pub async fn of_the_demo(shop: &Shop) -> Vec<Page> {
    shop.person("helper", Role::Helper).await;
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let job = |status| facts.jobs.iter().rfind(|job: &&Job| job.status == status).unwrap();
    let (booked, done) = (job(JobStatus::Booked).id.as_str(), job(JobStatus::Done).id.as_str());
    let lot = facts.receipts.iter().find_map(|receipt| receipt.lot.as_deref()).unwrap();
    let order = facts.orders.last().unwrap().id.as_str();
    let containers = shop.store.containers(shop.id(), None, true).await.unwrap();
    let open = containers.iter().find(|own| own.product.as_str() == "paint-coating-50").unwrap();
    let (open, person) = (open.id.to_string(), shop.store.signing_in("helper").await.unwrap());
    let person = person.unwrap().person.id.to_string();
    let named = |route: &'static str| {
        let name = match route {
            "/containers/{*id}" => &open,
            "/jobs/{id}/record" | "/jobs/{id}/vehicle" => done,
            "/jobs/{id}" | "/jobs/{id}/finish" => booked,
            "/orders/{id}" | "/orders/{id}/print" => order,
            "/people/{id}" => &person,
            "/setup/job-types/{id}" => "wash",
            "/setup/products/{id}" => "wash-shampoo",
            "/setup/suppliers/{id}" => "north-dock",
            "/shelf/{product}" => "wheel-acid",
            _ => lot,
        };
        let (start, rest) = route.split_once('{').unwrap();
        let end = rest.split_once('}').unwrap().1;
        Page { route, path: format!("{start}{name}{end}") }
    };
    let own = |route: &'static str, path: String| Page { route, path };
    let mut pages: Vec<Page> = PLAIN.map(|route| own(route, route.to_owned())).into();
    pages.extend(NAMING.map(named));
    // Forms of these are there only now and then.
    pages.push(own("/jobs/{id}", format!("/jobs/{done}")));
    pages.push(own("/labels", format!("/labels?c={open}")));
    let mix = "/shelf/apc?act=mix&bottle=500&measure=mL&water=4";
    pages.push(own("/shelf/{product}", mix.to_owned()));
    pages
}

/// Routes of the router that are looked at.
fn routes() -> BTreeSet<String> {
    let mut routes = BTreeSet::new();
    for path in sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/api/src/pages")) {
        let text = fs::read_to_string(path).unwrap();
        for route in text.split(".route(\"").skip(1) {
            let (path, rest) = route.split_once('"').unwrap();
            if rest.lines().next().unwrap().contains("get(") {
                routes.insert(path.to_owned());
            }
        }
    }
    routes
}

fn sources(directory: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(directory).unwrap().map(|entry| entry.unwrap().path());
    entries.flat_map(|path| if path.is_dir() { sources(&path) } else { vec![path] }).collect()
}

/// A page that is new is looked at by whatever looks at all of them.
#[test]
fn every_route_is_a_page_that_is_looked_at() {
    let looked_at = PLAIN.iter().chain(&NAMING).chain(&OPEN).chain(&NO_PAGES);
    let known: BTreeSet<String> =
        looked_at.filter(|route| !route.contains('?')).map(|route| (*route).to_owned()).collect();
    assert_eq!(routes(), known);
}
