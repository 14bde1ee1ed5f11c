//! What done jobs are taken to have used: undone once it is known better, and never deducted twice.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::facts::{Method, Pour};
use capful_domain::{Facts, Job, JobStatus, Product, Quantity, SheetRow, Snapshot};
use capful_forecast::expected_pours;
use capful_store::{Change, EventKind, Finish, WriteContext};
use common::{Fresh, TestShop, id, job, ml, noon, pour, receipt, soap};
use uuid::Uuid;

on_both!(
    what_is_reversed_is_not_deducted_again,
    what_is_poured_later_takes_the_place_of_what_was_expected,
    what_is_imported_later_takes_its_place_too,
);

/// A shop whose washes take 40 mL of soap and 20 mL of wax.
async fn with_sheet(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.product("wax").await;
    for (product, number) in [("soap", 40), ("wax", 20)] {
        shop.done(Change::SheetRow(SheetRow {
            job_type: id("wash"),
            product: id(product),
            amount: ml(number),
            ratio: None,
            share_of_jobs: None,
            log_sd: None,
        }))
        .await;
    }
    let receipts = vec![receipt("r1", 2, "soap", 1), receipt("r2", 2, "wax", 1)];
    shop.done(Change::Receive(receipts)).await;
    shop
}

/// What the plan deducts is what the books did: of the same jobs and products. How much of it is
/// learned anew from every pour, and stands here as on the sheet.
async fn agrees(shop: &TestShop) {
    let now = noon(25);
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let mut expected = expected_pours(&Snapshot::of(&facts, now));
    for pour in &mut expected {
        let on_sheet = if pour.product == id("soap") { 40_000 } else { 20_000 };
        pour.quantity = Quantity::from_ledger_units(on_sheet);
    }
    let planned = Snapshot::of(&facts, now).ledger(&expected);
    for container in shop.store.containers(shop.shop, None, false).await.unwrap() {
        let left = planned.container(&container.id).map_or(Quantity::ZERO, |own| own.left);
        assert_eq!(container.left, left, "{}", container.id);
    }
    shop.is_as_replayed().await;
}

/// The same shop, taken out as a folder and taken over as another.
async fn taken_over(shop: TestShop, change: impl Fn(&mut Facts)) -> TestShop {
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    change(&mut facts);
    let files = capful_folder::to_files(&facts);
    let facts = capful_folder::read_files(&files).unwrap().facts;
    let other = TestShop { shop: Uuid::now_v7(), store: shop.store };
    takes_over(&other, facts).await;
    other
}

async fn takes_over(shop: &TestShop, facts: Facts) {
    let expected = expected_pours(&Snapshot::of(&facts, noon(25)));
    let import = Change::Import { facts: Box::new(facts), expected };
    let asked = WriteContext::plainly(shop.shop, noon(25));
    shop.store.change_plainly(&asked, &import).await.unwrap();
}

async fn finished(fresh: &Fresh) -> TestShop {
    let shop = with_sheet(fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    facts.jobs[0].status = JobStatus::Done;
    facts.jobs[0].finished_at = Some(noon(5));
    let expected = expected_pours(&Snapshot::of(&facts, noon(25)));
    assert_eq!(expected.len(), 2);
    let job = shop.store.get::<Job>(shop.shop, "j1").await.unwrap();
    let finish = Finish { job, at: noon(5), pours: vec![], expected };
    shop.done(Change::FinishJob(finish)).await;
    shop
}

async fn what_is_reversed_is_not_deducted_again(fresh: Fresh) {
    let shop = finished(&fresh).await;
    agrees(&shop).await;
    let pours = shop.store.facts(shop.shop, None).await.unwrap().pours;
    for guessed in &pours {
        shop.reverses(EventKind::Pour, guessed.id.as_str()).await;
        agrees(&shop).await;
    }
    assert_eq!(shop.shelf("soap").await, ["r1/1 sealed 1000"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 sealed 1000"]);
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let none = |pour: &Pour| pour.amount.number.is_zero() && pour.method == Some(Method::Expected);
    assert!(facts.pours.len() == 2 && facts.pours.iter().all(none), "{:?}", facts.pours);
    let snapshot = Snapshot::of(&facts, noon(25));
    assert!(snapshot.measured_pairs().is_empty(), "they teach nothing");
    let before =
        Snapshot::of(&shop.store.facts(shop.shop, Some(noon(19))).await.unwrap(), noon(19));
    assert_eq!(before.facts.pours.len(), 4, "as of before, what was deducted stands");
    assert_eq!(before.ledger(&[]).left_of(&id("soap")).ledger_units(), 960_000);

    let other = taken_over(shop, |_| {}).await;
    assert_eq!(other.shelf("soap").await, ["r1/1 sealed 1000"]);
    agrees(&other).await;
}

/// A shop that was taken over with a done job for which nothing was written down.
async fn with_history(fresh: &Fresh) -> TestShop {
    let shop = with_sheet(fresh).await;
    shop.done(Change::Book(job("j1", 5))).await;
    let shop = taken_over(shop, |facts| {
        facts.jobs[0].status = JobStatus::Done;
        facts.jobs[0].finished_at = Some(noon(5));
    })
    .await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 960"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 980"]);
    agrees(&shop).await;
    shop
}

fn for_job(own: &str, product: &str, number: i64) -> Pour {
    Pour { job: Some(id("j1")), ..pour(own, noon(5), product, number) }
}

async fn what_is_poured_later_takes_the_place_of_what_was_expected(fresh: Fresh) {
    let shop = with_history(&fresh).await;
    shop.done(Change::Pour(vec![for_job("p1", "soap", 100)])).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900"]);
    agrees(&shop).await;
    shop.done(Change::Pour(vec![for_job("p2", "soap", 50)])).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 850"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 980"]);
    agrees(&shop).await;
    // An expected pour of the job says that what is expected of it is written down.
    let guessed = Pour { method: Some(Method::Expected), ..for_job("p3", "soap", 10) };
    shop.done(Change::Pour(vec![guessed])).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 840"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 sealed 1000"]);
    agrees(&shop).await;
}

async fn what_is_imported_later_takes_its_place_too(fresh: Fresh) {
    let shop = with_history(&fresh).await;
    let mut facts = shop.store.facts(shop.shop, None).await.unwrap();
    facts.pours.push(for_job("p1", "soap", 100));
    facts.products.push(Product { id: id("glass"), ..soap() });
    takes_over(&shop, facts).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900"]);
    assert_eq!(shop.shelf("wax").await, ["r2/1 open 980"]);
    agrees(&shop).await;
}
