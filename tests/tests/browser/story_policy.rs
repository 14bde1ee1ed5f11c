//! What pictures and the description of the service may load is what they do load: the browser
//! keeps them from nothing by their own content security policy. Every page is held to the same
//! where it is held to be for everybody.

use axum::Router;
use axum::http::{HeaderValue, header};
use axum::response::Html;
use axum::routing::get;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Site, Stage};

in_a_browser!(pictures_and_the_description_load_what_they_may, what_goes_against_a_policy_is_seen,);

async fn pictures_and_the_description_load_what_they_may(stage: Stage) {
    let shop = Shop::demo("2026-03-03").await;
    let owner = stage.signed_in(&shop, Look::LAPTOP.dark()).await;
    for path in ["/shelf/iron-remover/demand.svg", "/assets/icon.svg", "/capful.webmanifest"] {
        owner.open(path).await;
        owner.keeps_its_policy().await;
    }
    owner.open("/api/docs/").await;
    owner.sees("Capful").await;
    owner.keeps_its_policy().await;
    // An operation is unfolded, which the library draws as it goes.
    owner.ask("document.querySelector('.opblock-summary-control').click();", vec![]).await;
    owner.sees("Parameters").await;
    owner.keeps_its_policy().await;
}

/// The check itself sees what it is there for.
async fn what_goes_against_a_policy_is_seen(stage: Stage) {
    let policy = HeaderValue::from_static("default-src 'self'");
    let page = "<!doctype html><title>Odd</title><p style=\"color: red\">Odd</p>";
    let odd = get(move || {
        let policy = policy.clone();
        async move { ([(header::CONTENT_SECURITY_POLICY, policy)], Html(page)) }
    });
    let site = Site::of(Router::new().route("/", odd)).await;
    let browser = stage.before(&site, Look::LAPTOP).await;
    browser.open("/").await;
    let said = browser.console().await;
    assert!(said.iter().any(|line| line.contains("Content Security Policy")), "{said:?}");
}
