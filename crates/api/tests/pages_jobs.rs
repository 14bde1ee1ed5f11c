//! Jobs on the pages: booked, moved, looked at, recorded; usage, costs and traces, and who may see
//! what.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Job, SheetRow};
use capful_store::Role;
use common::people::{Visitor, value};
use common::{TestShop, two_gulls};

const WASH: [(&str, &str); 5] = [
    ("planned_on", "2026-03-05"),
    ("job_types", "maintenance"),
    ("size", "large"),
    ("condition", "4"),
    ("vehicle", "GULL 505"),
];

/// The fields, with others in place of those of their names.
fn with<'f>(
    fields: &[(&'f str, &'f str)],
    others: &[(&'f str, &'f str)],
) -> Vec<(&'f str, &'f str)> {
    let mut all = fields.to_vec();
    all.retain(|(name, _)| others.iter().all(|(other, _)| other != name));
    all.extend(others);
    all
}

async fn job(shop: &TestShop, id: &str) -> Job {
    shop.store.get::<Job>(shop.shop, id).await.unwrap().row
}

async fn owner() -> (TestShop, Visitor) {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    (shop, owner)
}

#[tokio::test]
async fn a_week_is_read_day_by_day() {
    let (_shop, owner) = owner().await;
    let week = owner.sees("/jobs").await;
    for there in ["2 to 8 March, week 10", "GULL 404", "Ceramic coating", "Medium, condition 3"] {
        assert!(week.contains(there), "{there}: {week}");
    }
    assert!(!week.contains("GULL 303"));
    // The shop is closed on Sundays: nothing is booked on one.
    let sunday = week.split("Sunday 8").nth(1).unwrap();
    assert!(sunday.starts_with(" <span class=\"small\">closed"), "{sunday}");
    assert!(!week.contains("planned_on=2026-03-08") && week.contains("planned_on=2026-03-07"));
    assert!(week.contains("class=\"chance"));
    let before = owner.sees("/jobs?week=2026-02-18").await;
    assert!(before.contains("GULL 303") && before.contains("16 to 22 February, week 8"));
    assert!(!before.contains("class=\"chance"));
    assert_eq!(owner.get("/jobs?week=soon").await.status, 400);
}

#[tokio::test]
async fn every_job_is_found_by_its_vehicle_a_page_at_a_time() {
    let mut facts = two_gulls();
    let first = facts.jobs[0].clone();
    for number in 0..120 {
        let id = capful_domain::Id::parse(&format!("K-{number}")).unwrap();
        let vehicle = Some(format!("Tern {number:03}"));
        facts.jobs.push(Job { id, vehicle, ..first.clone() });
    }
    let shop = TestShop::open_with(facts, capful_api::Settings::default()).await;
    let helper = shop.signed_in(Role::Helper).await;
    let page = helper.sees("/jobs?all=1").await;
    assert_eq!(page.matches("href=\"/jobs/").count(), 50);
    // The one that is planned last stands first.
    assert!(page.find("GULL 101").unwrap() < page.find("GULL 404").unwrap());
    assert!(page.contains("href=\"/jobs?all=2\""));
    let last = helper.sees("/jobs?all=3").await;
    assert_eq!(last.matches("href=\"/jobs/").count(), 25);
    assert!(!last.contains("all=4"));
    let found = helper.sees("/jobs?all=1&vehicle=tern+01").await;
    assert_eq!(found.matches("href=\"/jobs/").count(), 10);
    assert!(helper.sees("/jobs?all=1&vehicle=%25").await.contains("No job is found."));
}

#[tokio::test]
async fn a_job_is_booked_moved_begun_and_called_off() {
    let (shop, owner) = owner().await;
    let form = with(&WASH, &[("price", "120"), ("do", "book")]);
    let path = owner.leads("/jobs/new", &form).await;
    let id = path.strip_prefix("/jobs/").unwrap();
    let booked = job(&shop, id).await;
    assert_eq!(booked.vehicle.as_deref(), Some("GULL 505"));
    assert_eq!((booked.condition.grade(), booked.price.unwrap().minor()), (4, 12_000));
    let page = owner.sees(&path).await;
    for there in ["Thursday 5 March 2026", "CAD 120.00", "Large, condition 4", "class=\"chance"] {
        assert!(page.contains(there), "{there}: {page}");
    }
    let version = value(&page, "name=\"version\" value=\"");
    let moved = with(&WASH, &[("planned_on", "2026-03-06"), ("version", &version)]);
    assert_eq!(owner.leads(&path, &moved).await, path);
    assert_eq!(job(&shop, id).await.planned_on.to_string(), "2026-03-06");
    // A price that is left empty is as the job types cost.
    assert_eq!(job(&shop, id).await.price, None);

    // Whoever saw the job as it was before is told, and what was typed is not lost.
    let late = with(&WASH, &[("vehicle", "GULL 506"), ("version", &version)]);
    let refused = owner.sends(&path, &late).await;
    assert_eq!(refused.status, 412);
    assert!(
        refused.html.contains("Somebody changed this job") && refused.html.contains("GULL 506")
    );
    assert_eq!(job(&shop, id).await.vehicle.as_deref(), Some("GULL 505"));
    assert_eq!(owner.sends(&path, &WASH).await.status, 428);

    let now = value(&refused.html, "name=\"version\" value=\"");
    owner.leads(&format!("{path}/start"), &[("version", &now)]).await;
    let page = owner.sees(&path).await;
    assert!(page.contains(">started</span>") && !page.contains("/start\""), "{page}");
    let now = value(&page, "name=\"version\" value=\"");
    owner.leads(&format!("{path}/cancel"), &[("version", &now)]).await;
    let page = owner.sees(&path).await;
    assert!(page.contains(">called off</span>") && !page.contains("/finish"), "{page}");
}

#[tokio::test]
async fn what_is_wrong_is_told_at_its_field_and_nothing_is_lost() {
    let (shop, owner) = owner().await;
    let jobs = || async { shop.store.page::<Job>(shop.shop, None, 100).await.unwrap().len() };
    let before = jobs().await;
    for (name, text) in [("planned_on", "soon"), ("condition", "9"), ("price", "a lot")] {
        let form = with(&WASH, &[(name, text)]);
        let page = owner.sends("/jobs/new", &form).await;
        assert_eq!(page.status, 422, "{name}");
        assert!(page.html.contains(&format!("id=\"wrong-{name}\"")), "{}", page.html);
        assert!(page.html.contains("value=\"GULL 505\""));
    }
    let mut untold = WASH.to_vec();
    untold.retain(|(name, _)| *name != "job_types");
    let page = owner.sends("/jobs/new", &untold).await;
    assert!(page.html.contains("at least one job type"), "{}", page.html);
    assert_eq!(jobs().await, before);
    let wrong = with(&WASH, &[("size", "huge"), ("version", "1")]);
    let page = owner.sends("/jobs/J-4", &wrong).await;
    assert_eq!(page.status, 422);
    assert!(page.html.contains("id=\"wrong-size\"") && page.html.contains("value=\"GULL 505\""));
}

#[tokio::test]
async fn looking_first_books_nothing() {
    // One bottle of 50 mL is left, and a job of about 22 mL is booked for Wednesday.
    let mut facts = two_gulls();
    facts.receipts.retain(|receipt| receipt.id.as_str() != "R-4");
    facts.orders.clear();
    facts.order_lines.clear();
    let shop = TestShop::open_with(facts, capful_api::Settings::default()).await;
    let owner = shop.signed_in(Role::Owner).await;
    let form = [
        ("planned_on", "2026-03-03"),
        ("job_types", "ceramic"),
        ("size", "oversize"),
        ("condition", "5"),
        ("do", "look"),
    ];
    let page = owner.sends("/jobs/new", &form).await;
    assert_eq!(page.status, 200, "{}", page.html);
    assert!(page.html.contains("What the shelf says"), "{}", page.html);
    assert!(page.html.contains("Silica coating"), "{}", page.html);
    // North Dock takes four days: nothing that is ordered now is there on Tuesday.
    assert!(page.html.contains("Ordered from North Dock Supply"), "{}", page.html);
    assert!(page.html.contains("It would take from other jobs"), "{}", page.html);
    assert!(page.html.contains("GULL 404, Wednesday"), "{}", page.html);
    let later = with(&form, &[("planned_on", "2026-03-22")]);
    let page = owner.sends("/jobs/new", &later).await;
    assert!(page.html.contains("The shop is closed on Sunday 22 March."), "{}", page.html);
    let jobs = shop.store.page::<Job>(shop.shop, None, 100).await.unwrap();
    assert_eq!(jobs.len(), 5);
}

#[tokio::test]
async fn a_done_job_tells_what_it_took_out_of_which_lots() {
    let (shop, owner) = owner().await;
    let page = owner.sees("/jobs/J-2").await;
    for there in ["110 mL", "measured; such a job is expected to take", "/trace/lots/B2231"] {
        assert!(page.contains(there), "{there}: {page}");
    }
    // 110 mL of a litre at 19.50.
    assert!(page.contains("CAD 2.15") || page.contains("CAD 2.14"), "{page}");
    let third = owner.sees("/jobs/J-3").await;
    assert!(third.contains("not measured: as expected"), "{third}");
    let pour = [("product", "iron-remover"), ("quantity", "2"), ("measure", "caps")];
    owner.leads("/jobs/J-2/pour", &pour).await;
    assert!(owner.sees("/jobs/J-2").await.contains("140 mL"));
    let wrong = [("product", "iron-remover"), ("quantity", "some"), ("measure", "mL")];
    let page = owner.sends("/jobs/J-2/pour", &wrong).await;
    assert_eq!(page.status, 422);
    assert!(page.html.contains("value=\"some\""), "{}", page.html);

    let lot = owner.sees("/trace/lots/B2231").await;
    assert!(lot.contains("GULL 202") && lot.contains("GULL 303"), "{lot}");
    assert!(!lot.contains("GULL 101"));
    assert_eq!(owner.get("/trace/lots/B0000").await.status, 404);
    drop(shop);
}

#[tokio::test]
async fn the_record_names_lots_and_no_money() {
    let (_shop, owner) = owner().await;
    let record = owner.sees("/jobs/J-2/record").await;
    for there in ["GULL 202", "9 February 2026", "Ceramic coating", "Silica coating", "B2231"] {
        assert!(record.contains(there), "{there}: {record}");
    }
    // The soap's lot has no batch code, and money is nobody's business here.
    assert!(!record.contains("R-1") && !record.contains("CAD"), "{record}");
    assert_eq!(owner.get("/jobs/J-4/record").await.status, 422);
}

#[tokio::test]
async fn usage_is_set_to_what_was_learned_by_the_owner_alone() {
    let (shop, owner) = owner().await;
    let page = owner.sees("/usage?type=ceramic&size=large&condition=4").await;
    assert!(page.contains("Large, condition 4") && page.contains("class=\"spread"), "{page}");
    assert_eq!(owner.get("/usage?size=huge").await.status, 400);
    assert_eq!(owner.get("/usage?type=none").await.status, 404);
    // 45.67 of soap as bought, on a sheet that speaks of the mix at 9 to 1.
    let set = [("job_type", "maintenance"), ("product", "wash"), ("quantity", "45.67")];
    owner.leads("/usage", &set).await;
    let rows = shop.store.page::<SheetRow>(shop.shop, None, 100).await.unwrap();
    let row = rows.iter().find(|listed| listed.row.job_type.as_str() == "maintenance").unwrap();
    assert_eq!(row.row.amount.number.to_string(), "457");
    assert_eq!(row.row.ratio.unwrap().water().to_string(), "9");
    let helper = shop.signed_in(Role::Helper).await;
    assert_eq!(helper.sends("/usage", &set).await.status, 403);
}

#[tokio::test]
async fn money_is_the_owners() {
    let (shop, owner) = owner().await;
    let costs = owner.sees("/costs").await;
    for there in ["Maintenance wash", "Ceramic coating", "of CAD 600.00", "is left once"] {
        assert!(costs.contains(there), "{there}: {costs}");
    }
    let helper = shop.signed_in(Role::Helper).await;
    assert_eq!(helper.get("/costs").await.status, 403);
    for page in ["/jobs", "/jobs?all=1", "/jobs/new", "/jobs/J-2", "/jobs/J-4", "/usage"] {
        let text = helper.sees(page).await;
        assert!(!text.contains("CAD") && !text.contains("/costs"), "{page}: {text}");
    }
    // What a helper cannot see, a helper does not change.
    let version = value(&helper.sees("/jobs/J-4").await, "name=\"version\" value=\"");
    let moved = with(&WASH, &[("price", "1"), ("version", &version)]);
    helper.leads("/jobs/J-4", &moved).await;
    let after = job(&shop, "J-4").await;
    assert_eq!(after.price.unwrap().minor(), 60_000);
    assert_eq!(after.vehicle.as_deref(), Some("GULL 505"));
}
