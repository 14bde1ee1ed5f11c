//! Every page there is, at both sizes and in both colours: nothing on it keeps anybody out, it is
//! no wider than the screen, and it is light enough for a phone. With `CAPFUL_TEST_SCREENS` set
//! each is drawn into `target/screens`, to be looked at.

use crate::in_a_browser;
use crate::pages::{OPEN, of_the_demo};
use crate::stage::{Browser, Look, Shop, Stage};

in_a_browser!(
    every_page_is_for_everybody_on_a_phone,
    every_page_is_for_everybody_on_a_phone_in_the_dark,
    every_page_is_for_everybody_on_a_laptop,
    every_page_is_for_everybody_on_a_laptop_in_the_dark,
);

async fn every_page_is_for_everybody_on_a_phone(stage: Stage) {
    every_page(&stage, Look::PHONE).await;
}

async fn every_page_is_for_everybody_on_a_phone_in_the_dark(stage: Stage) {
    every_page(&stage, Look::PHONE.dark()).await;
}

async fn every_page_is_for_everybody_on_a_laptop(stage: Stage) {
    every_page(&stage, Look::LAPTOP).await;
}

async fn every_page_is_for_everybody_on_a_laptop_in_the_dark(stage: Stage) {
    every_page(&stage, Look::LAPTOP.dark()).await;
}

async fn every_page(stage: &Stage, look: Look) {
    let shop = Shop::demo("2026-03-03").await;
    let owner = stage.signed_in(&shop, look).await;
    for page in of_the_demo(&shop).await {
        is_for_everybody(&owner, &page.path).await;
    }
    is_for_everybody(&owner, "/nothing-is-here").await;
    let now = shop.now();
    let (stranger, nobodys) = (stage.before(&shop, look).await, Shop::nothing(now).await);
    let first = stage.before(&nobodys, look).await;
    for path in OPEN {
        let who = if path == "/welcome" { &first } else { &stranger };
        is_for_everybody(who, path).await;
    }
}

async fn is_for_everybody(person: &Browser, path: &str) {
    person.open(path).await;
    person.is_at(path).await;
    assert!(person.page_bytes().await < 100_000, "{path}");
    if std::env::var_os("CAPFUL_TEST_SCREENS").is_some() {
        let name = path.replace(|c: char| !c.is_ascii_alphanumeric(), "-");
        person.screenshot(&format!("page{name}")).await;
    }
    // What is folded away is looked through too.
    let unfold = "document.querySelectorAll('details').forEach((one) => { one.open = true; });";
    person.ask(unfold, vec![]).await;
    person.is_for_everybody().await;
}
