//! A shop whose things are called `.`, `..`, `new` and the like: all that an id may be. Every page
//! is reached by the links of the others, as a browser reads them, and so is every address for
//! programs.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use capful_api::Settings;
use capful_domain::Facts;
use capful_store::Role;
use common::people::Visitor;
use common::{TestShop, well};
use reqwest::{Method, Url};
use serde_json::{Value, json};

/// What things are called here, and what stands for it in an address.
const IDS: [(&str, &str); 7] = [
    (".", "~."),
    ("..", "~.."),
    ("...", "~..."),
    ("new", "~new"),
    ("-", "-"),
    ("_", "_"),
    ("..a", "..a"),
];

/// A file with a row for each id, made of it and its place.
fn file(header: &str, row: impl Fn(&str, usize) -> String) -> Vec<u8> {
    let mut text = format!("{header}\n");
    for (place, (id, _)) in IDS.iter().enumerate() {
        let _ = writeln!(text, "{}", row(id, place));
    }
    text.into_bytes()
}

fn odd_shop() -> Facts {
    let jobs = |id: &str, place: usize| {
        // Two of them are done, the rest is booked for today.
        let (status, done) = match place {
            0 | 1 => ("done", "2026-02-27T15:00"),
            _ => ("booked", ""),
        };
        let day = if place < 2 { "2026-02-27" } else { "2026-03-02" };
        format!("{id},2026-02-20T09:00,{day},{status},{id},medium,3,{done},vehicle of {id}")
    };
    let files = [
        (
            "shop.toml",
            b"name = \"Odd\"\ntimezone = \"America/Halifax\"\ncurrency = \"CAD\"\n".to_vec(),
        ),
        (
            "products.csv",
            file("id,name,unit,container_size,form,mix_days", |id, _| {
                format!("{id},soap of {id},mL,1000,concentrate,30")
            }),
        ),
        ("ratios.csv", file("product,label,water", |id, _| format!("{id},{id},10"))),
        ("suppliers.csv", file("id,name,lead_days", |id, _| format!("{id},seller of {id},2"))),
        ("offers.csv", file("supplier,product,pack,price", |id, _| format!("{id},{id},1,20.00"))),
        ("job_types.csv", file("id,name", |id, _| format!("{id},wash of {id}"))),
        (
            "usage_sheet.csv",
            file("job_type,product,quantity,unit", |id, _| format!("{id},{id},50,mL")),
        ),
        (
            "jobs.csv",
            file(
                "id,booked_at,planned_on,status,job_types,size,condition,finished_at,vehicle",
                jobs,
            ),
        ),
        (
            "receipts.csv",
            file("id,at,product,containers,unit_cost,supplier,lot", |id, _| {
                format!("{id},2026-02-01T09:00,{id},2,20.00,{id},{id}")
            }),
        ),
        (
            "mixes.csv",
            file("id,at,product,quantity,unit,water", |id, _| {
                format!("{id},2026-02-26T09:00,{id},500,mL,10")
            }),
        ),
        (
            "pours.csv",
            b"id,at,product,quantity,unit,job\np,2026-02-27T15:00,..,40,mL,..\n".to_vec(),
        ),
        (
            "orders.csv",
            file("id,placed_at,supplier,status", |id, _| {
                format!("{id},2026-02-27T09:00,{id},placed")
            }),
        ),
        ("order_lines.csv", file("order,product,packs", |id, _| format!("{id},{id},1"))),
    ];
    let files: BTreeMap<String, Vec<u8>> =
        files.into_iter().map(|(name, bytes)| (name.to_owned(), bytes)).collect();
    capful_folder::read_files(&files).unwrap().facts
}

async fn open() -> TestShop {
    TestShop::open_with(odd_shop(), Settings::default()).await
}

/// The addresses that stand in a page behind such a mark.
fn addresses<'h>(html: &'h str, mark: &str) -> Vec<&'h str> {
    html.split(mark).skip(1).map(|rest| rest.split('"').next().unwrap()).collect()
}

/// Where a browser goes by a link: steps up the path are taken before it asks.
fn as_a_browser_goes(from: &str, link: &str) -> String {
    let base = Url::parse("http://shop.example").unwrap().join(from).unwrap();
    let to = base.join(&link.replace("&amp;", "&")).unwrap();
    assert_eq!(to.host_str(), Some("shop.example"), "{link}");
    to[url::Position::BeforePath..url::Position::AfterQuery].to_owned()
}

/// Every page that links lead to, from the first one on, with what is on it.
async fn walked(owner: &Visitor) -> BTreeMap<String, String> {
    let (mut pages, mut next) = (BTreeMap::new(), vec!["/".to_owned(), "/more".to_owned()]);
    let mut seen: BTreeSet<String> = next.iter().cloned().collect();
    while let Some(path) = next.pop() {
        let html = owner.sees(&path).await;
        for link in addresses(&html, " href=\"") {
            let to = as_a_browser_goes(&path, link);
            let is_passed_over = to.contains("week=") || to.contains("before=");
            let is_passed_over = is_passed_over || to.starts_with("/api/");
            if !is_passed_over && seen.insert(to.clone()) {
                next.push(to);
            }
        }
        pages.insert(path, html);
    }
    pages
}

#[tokio::test]
async fn every_page_is_reached_by_links() {
    let shop = open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let pages = walked(&owner).await;
    for (id, segment) in IDS {
        let bottle = format!("/containers/{segment}/1");
        for (path, says) in [
            (format!("/shelf/{segment}"), format!("soap of {id}")),
            (format!("/setup/products/{segment}"), format!("soap of {id}")),
            (format!("/setup/suppliers/{segment}"), format!("seller of {id}")),
            (format!("/setup/job-types/{segment}"), format!("wash of {id}")),
            (format!("/jobs/{segment}"), format!("vehicle of {id}")),
            (format!("/orders/{segment}"), format!("seller of {id}")),
            (format!("/orders/{segment}/print"), format!("seller of {id}")),
            (bottle, format!("soap of {id}")),
            (format!("/containers/{segment}"), format!("soap of {id}")),
        ] {
            let html = pages.get(&path).unwrap_or_else(|| panic!("no link leads to {path}"));
            assert!(html.contains(&says), "{path} does not say {says}");
        }
    }
    for (id, segment) in &IDS[..2] {
        let path = format!("/trace/lots/{segment}");
        assert!(pages[&path].contains(&format!("vehicle of {id}")), "{path}");
    }
    // What is new is made where it was.
    assert!(pages["/jobs/new"].contains("action=\"/jobs/new\""));
    assert!(pages["/setup/products/new"].contains("action=\"/setup/products/new\""));
}

/// The forms of a page go to an address that a browser leaves as it is.
#[tokio::test]
async fn every_form_goes_where_it_says() {
    let shop = open().await;
    let owner = shop.signed_in(Role::Owner).await;
    // One says in a field what it counts, the other leaves nobody to ask.
    let mut sent = BTreeSet::from(["/count".to_owned(), "/sign-out".to_owned()]);
    for (path, html) in walked(&owner).await {
        for link in addresses(&html, "method=\"post\" action=\"") {
            let link = link.split('#').next().unwrap();
            assert_eq!(as_a_browser_goes(&path, link), link, "{path}");
            if !sent.insert(link.to_owned()) {
                continue;
            }
            // Nothing that the form needs is sent: what is wrong is that, and not the address.
            let gave = owner.sends(link, &[]).await.status.as_u16();
            assert!(![404, 405].contains(&gave), "{path}: {link}: {gave}");
        }
    }
}

#[tokio::test]
async fn what_is_done_leads_to_the_thing_that_it_was_done_to() {
    let shop = open().await;
    let owner = shop.signed_in(Role::Owner).await;
    for (id, segment) in &IDS[2..] {
        let (job, shelf) = (format!("/jobs/{segment}"), format!("/shelf/{segment}"));
        let pour = [("product", *id), ("quantity", "5"), ("measure", "mL"), ("water", "")];
        assert_eq!(owner.leads(&format!("{job}/pour"), &pour).await, job);
        let page = owner.sees(&format!("{job}/finish")).await;
        let action = addresses(&page, "data-later").len();
        assert!(action > 0 && page.contains(&format!("action=\"{job}/finish\"")), "{page}");
        assert_eq!(owner.leads(&format!("{job}/finish"), &[]).await, "/");
        assert!(owner.sees(&job).await.contains("vehicle of"));
        let count = [("act", "count"), ("quantity", "700"), ("measure", "mL")];
        assert_eq!(owner.leads(&shelf, &count).await, shelf);
        let order = format!("/orders/{segment}");
        assert_eq!(owner.leads(&format!("{order}/cancel"), &[]).await, order);
    }
}

#[tokio::test]
async fn programs_name_everything_too() {
    let shop = open().await;
    let owner = shop.owner().await;
    for (id, segment) in IDS {
        let product = owner.see(&format!("/api/v1/products/{segment}")).await;
        assert_eq!(product["id"], id, "{product}");
        for kind in ["products", "suppliers", "job-types"] {
            let name = format!("{kind} called {id}");
            let mut body = json!({ "name": name });
            match kind {
                "products" => {
                    body["unit"] = json!("mL");
                    body["container_size"] = json!("1000");
                }
                "suppliers" => body["lead_days"] = json!("2"),
                _ => {}
            }
            let list = owner.see(&format!("/api/v1/{kind}")).await;
            let rows = list["rows"].as_array().or(list["items"].as_array()).unwrap().clone();
            let row = rows.iter().find(|row| row["id"] == id).unwrap_or_else(|| panic!("{list}"));
            let version = row["version"].as_i64().unwrap();
            let put = format!("/{kind}/{segment}");
            let put: Value = owner.edit(Method::PUT, &put, version, &body).await;
            assert_eq!(put["id"], id, "{put}");
        }
        let ratio = json!({ "water": "12" });
        let put = format!("/products/{segment}/ratios/~{id}x");
        let put = owner.change(Method::PUT, &put).header("If-None-Match", "*").json(&ratio);
        well(segment, put.send().await.unwrap()).await;
        let offer = json!({ "price": "21.00" });
        owner.put_new(&format!("/offers/{segment}/{segment}/6"), &offer).await;
        let lot = owner.see(&format!("/api/v1/trace/lots/{segment}")).await;
        assert_eq!(lot["items"][0]["lot"], id, "{lot}");
        let job = owner.see(&format!("/api/v1/jobs/{segment}")).await;
        assert_eq!(job["id"], id, "{job}");
        owner.see(&format!("/api/v1/trace/jobs/{segment}")).await;
        owner.see(&format!("/api/v1/costs/jobs/{segment}")).await;
        // The mark may always stand before a name.
        let marked = owner.see(&format!("/api/v1/jobs/~{id}")).await;
        assert_eq!(marked["id"], id, "{marked}");
        let ended = owner.post(&format!("/orders/{segment}/cancel"), &Value::Null).await;
        assert_eq!(ended["id"], id, "{ended}");
    }
    for (_, segment) in &IDS[2..] {
        owner.post(&format!("/jobs/{segment}/start"), &Value::Null).await;
        owner.post(&format!("/jobs/{segment}/finish"), &Value::Null).await;
    }
}
