//! The service itself, as a browser meets it.

use capful_store::Scope;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(a_service_of_nothing_is_well, what_can_be_asked_is_described, time_passes_in_a_shop);

async fn a_service_of_nothing_is_well(stage: Stage) {
    let shop = Shop::nothing("2026-03-02T12:00:00Z".parse().unwrap()).await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.open("/healthz").await;
    phone.sees("alive").await;
}

async fn what_can_be_asked_is_described(stage: Stage) {
    let shop = Shop::demo("2026-03-02").await;
    let token = shop.token(Scope::Read).await;
    let laptop = stage.before(&shop, Look::LAPTOP).await;
    laptop.carries(&token).await;
    laptop.open("/api/docs").await;
    laptop.sees("/api/v1/weekly-order").await;
    laptop.screenshot("api-docs").await;
    assert!(laptop.page_bytes().await > 10_000);
}

async fn time_passes_in_a_shop(stage: Stage) {
    let shop = Shop::demo("2026-03-02").await;
    let token = shop.token(Scope::Read).await;
    let laptop = stage.before(&shop, Look::LAPTOP).await;
    laptop.carries(&token).await;
    laptop.open("/api/v1/weekly-order").await;
    laptop.sees("2026-03-02").await;
    shop.pass(chrono::TimeDelta::days(7));
    laptop.reload().await;
    laptop.sees("2026-03-09").await;
}
