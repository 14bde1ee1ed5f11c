//! The first run: a shop is opened by whoever runs the service, and by nobody else.

use crate::in_a_browser;
use crate::stage::{Look, PASSWORD, Shop, Stage};

in_a_browser!(the_first_run_opens_a_shop, nobody_else_becomes_the_owner);

async fn the_first_run_opens_a_shop(stage: Stage) {
    let shop = Shop::nothing("2026-03-02T12:00:00Z".parse().unwrap()).await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.open("/").await;
    phone.is_at("/welcome").await;
    phone.is_for_everybody().await;
    phone.screenshot("welcome").await;
    phone.fill("Code that the service printed", &shop.first_run_code).await;
    phone.fill("Name on the door", "Low Tide Detailing").await;
    phone.fill("Time zone", "America/Halifax").await;
    phone.fill("Currency", "CAD").await;
    phone.fill("Your name", "Ines").await;
    phone.fill("Name to sign in with", "ines").await;
    phone.fill("Password", PASSWORD).await;
    phone.tap("Open the shop").await;
    phone.is_at("/").await;
    phone.sees("Low Tide Detailing").await;
    phone.sees("An empty shelf").await;
    phone.is_for_everybody().await;
    // Once there is an owner, nobody is asked again.
    phone.open("/welcome").await;
    phone.is_at("/").await;
    let other = stage.before(&shop, Look::PHONE).await;
    other.open("/welcome").await;
    other.is_at("/sign-in").await;
}

async fn nobody_else_becomes_the_owner(stage: Stage) {
    let shop = Shop::nothing("2026-03-02T12:00:00Z".parse().unwrap()).await;
    let laptop = stage.before(&shop, Look::LAPTOP).await;
    laptop.open("/welcome").await;
    laptop.fill("Code that the service printed", "GUESSED234").await;
    laptop.fill("Name on the door", "Low Tide Detailing").await;
    laptop.fill("Time zone", "America/Halifax").await;
    laptop.fill("Currency", "CAD").await;
    laptop.fill("Your name", "Mallory").await;
    laptop.fill("Name to sign in with", "mallory").await;
    laptop.fill("Password", PASSWORD).await;
    laptop.tap("Open the shop").await;
    laptop.sees("the code that the service printed when it started").await;
    // What was typed is still there.
    laptop.holds("Your name", "Mallory").await;
    assert!(!shop.store.has_people().await.unwrap());
}
