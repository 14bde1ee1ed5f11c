//! The plan over HTTP is the plan of the folder, byte by byte.

#![allow(clippy::unwrap_used)]

mod common;

use capful_api::Settings;
use capful_domain::{AsOf, Facts, Snapshot};
use capful_forecast::{PlanSettings, plan, to_json};
use chrono::NaiveDate;
use common::{TestShop, two_gulls};

fn of_folder(facts: &Facts, as_of: &str, seed: u64) -> String {
    let moment = as_of.parse::<AsOf>().unwrap().moment(&facts.shop);
    let snapshot = Snapshot::of(facts, moment);
    to_json(&plan(&snapshot, &PlanSettings::default(), seed)).unwrap()
}

async fn the_same(facts: Facts, asked: &[(&str, u64)]) {
    let shop = TestShop::open_with(facts, Settings::default()).await;
    let reader = shop.reader().await;
    for (as_of, seed) in asked {
        let path = format!("/api/v1/plan?as_of={as_of}&seed={seed}");
        let answer = reader.get(&path).await;
        assert_eq!(answer.headers()["content-type"], "application/json");
        assert_eq!(answer.text().await.unwrap(), of_folder(&shop.facts, as_of, *seed), "{path}");
    }
}

#[tokio::test]
async fn the_plan_of_a_small_shop() {
    the_same(two_gulls(), &[("2026-03-02", 1), ("2026-02-10", 7), ("2026-02-16T15:00", 1)]).await;
}

#[tokio::test]
async fn the_plan_of_the_demo_shop() {
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    the_same(capful_demo::demo_shop(today, 1), &[("2026-03-02", 1), ("2025-11-03", 2)]).await;
}

#[tokio::test]
async fn the_parts_of_a_plan_are_the_plans() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let plan = reader.see("/api/v1/plan?as_of=2026-03-02").await;
    for (path, part) in [("readiness", "readiness"), ("going-off", "going_off"), ("usage", "usage")]
    {
        let answer = reader.see(&format!("/api/v1/{path}?as_of=2026-03-02")).await;
        assert_eq!(answer["items"], plan[part], "{path}");
        assert_eq!(answer["as_of"], "2026-03-02");
    }
    let order = reader.see("/api/v1/weekly-order?as_of=2026-03-02").await;
    assert_eq!(order["orders"], plan["weekly_order"]["orders"]);
    assert_eq!(order["total"], plan["weekly_order"]["total"]);
    let product = reader.see("/api/v1/products/coating?as_of=2026-03-02").await;
    assert_eq!(product["outlook"], plan["products"][2]);
}

#[tokio::test]
async fn a_plan_is_kept_until_something_is_written_down() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let made = || async {
        let text = reader.get("/metrics").await.text().await.unwrap();
        let line = text.lines().find(|line| line.starts_with("capful_plans_total{how=\"made\"}"));
        line.and_then(|line| line.split(' ').next_back()).unwrap().to_owned()
    };
    let first = reader.see("/api/v1/plan").await;
    assert_eq!(reader.see("/api/v1/plan").await, first);
    assert_eq!(made().await, "1");
    // The same rows an hour later are another moment.
    shop.pass(chrono::TimeDelta::hours(1));
    reader.see("/api/v1/plan").await;
    assert_eq!(made().await, "2");
    // Another row is another plan.
    let opened = capful_domain::facts::Opening {
        id: capful_domain::Id::parse("OP-1").unwrap(),
        at: common::monday(),
        product: capful_domain::Id::parse("coating").unwrap(),
        container: None,
    };
    let asked = capful_store::WriteContext::plainly(shop.shop, common::monday());
    let change = capful_store::Change::Open(opened);
    shop.store.change_plainly(&asked, &change).await.unwrap();
    reader.see("/api/v1/plan").await;
    assert_eq!(made().await, "3");
}
