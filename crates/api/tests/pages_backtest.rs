//! The backtest on the pages, and the pictures: who sees them, and that they are what they say.

#![allow(clippy::unwrap_used)]

mod common;

use capful_api::Settings;
use capful_forecast::PlanSettings;
use capful_store::Role;
use chrono::TimeDelta;
use common::{TestShop, monday};

async fn demo() -> TestShop {
    let facts = capful_demo::demo_shop(monday().date_naive(), 1);
    let settings = Settings { plan: PlanSettings { futures: 50 }, ..Settings::default() };
    TestShop::open_with(facts, settings).await
}

#[tokio::test]
async fn an_owner_replays_the_past_weeks_and_sees_them_all_day() {
    let shop = demo().await;
    let owner = shop.signed_in(Role::Owner).await;
    let before = owner.sees("/backtest").await;
    assert!(before.contains("Replay the past weeks") && !before.contains("/backtest.svg"));
    assert_eq!(owner.get("/backtest.svg").await.status, 404);
    assert_eq!(owner.leads("/backtest", &[]).await, "/backtest");
    let mut told = owner.sees("/backtest").await;
    // On a busy machine the page says so until it is done.
    for _ in 0..100 {
        if told.contains("being worked out") {
            assert_eq!(owner.leads("/backtest", &[]).await, "/backtest");
            told = owner.sees("/backtest").await;
        }
    }
    for there in ["26 weeks replayed", "Next 28 days", "These together", "not known", "Known:"] {
        assert!(told.contains(there), "{there}: {told}");
    }
    let picture = owner.sees("/backtest.svg").await;
    assert!(picture.contains("The plan in 26 past weeks</title>"), "{picture}");
    assert!(told.len() + picture.len() < 100_000);
    shop.pass(TimeDelta::days(1));
    assert!(!owner.sees("/backtest").await.contains("26 weeks replayed"));
}

#[tokio::test]
async fn a_young_shop_is_told_what_it_takes() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    owner.does("/backtest", &[]).await;
    let told = owner.sees("/backtest").await;
    assert!(told.contains("there is too little history to replay"), "{told}");
}

#[tokio::test]
async fn helpers_see_pictures_of_the_shelf_and_none_of_money() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    for path in ["/backtest", "/backtest.svg"] {
        assert_eq!(helper.get(path).await.status, 403, "{path}");
    }
    assert_eq!(helper.sends("/backtest", &[]).await.status, 403);
    assert!(!helper.sees("/more").await.contains("/backtest"));
    let (product, job_type) = (&shop.facts.products[0], &shop.facts.job_types[0]);
    let page = helper.sees(&format!("/shelf/{}", product.id)).await;
    let path = format!("/shelf/{}/demand.svg", product.id);
    assert!(page.contains(&format!("<img src=\"{path}\"")), "{page}");
    let fan = helper.sees(&path).await;
    assert!(fan.contains(&format!("{}: what jobs will take", product.name)), "{fan}");
    let usage = helper.sees(&format!("/usage.svg?type={}&size=large", job_type.id)).await;
    assert!(usage.contains("A large vehicle of condition 3."), "{usage}");
    assert_eq!(helper.get("/usage.svg?type=none").await.status, 404);
    assert_eq!(helper.get("/shelf/none/demand.svg").await.status, 404);
}
