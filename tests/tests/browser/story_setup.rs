//! The owner sets the shop up, says who else signs in, and sees who did what.

use capful_demo::demo_shop;
use capful_domain::Facts;
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(an_empty_shop_is_set_up, every_page_of_the_setup_is_for_everybody);

async fn an_empty_shop_is_set_up(stage: Stage) {
    let settings = demo_shop("2026-03-02".parse().unwrap(), 1).shop;
    let now = "2026-03-02T12:00:00Z".parse().unwrap();
    let shop = Shop::with(&Facts::new(settings), now).await;
    shop.person("ada", Role::Owner).await;
    let phone = stage.before(&shop, Look::PHONE).await;
    phone.signs_in("ada").await;
    phone.open("/setup").await;
    phone.tap("Look at the set").await;
    phone.tap("Headlights").await;
    phone.tap("Add what is ticked").await;
    phone.sees("What was new was taken over.").await;
    phone.sees("11 job types").await;
    phone.open("/setup/products/new").await;
    phone.fill("Name on the shelf", "Spray wax").await;
    phone.fill("A full container holds", "0.5").await;
    phone.choose("Unit", "L").await;
    phone.tap("Save").await;
    phone.sees("Spray wax").await;
    phone.open("/people").await;
    phone.fill("Name to sign in with", "bo").await;
    phone.fill_by("Name to sign in with", "Name", "Bo").await;
    phone.fill("Password, at least 10 characters", "nine lives of a towel").await;
    phone.tap("Add somebody").await;
    phone.sees("They can sign in now.").await;
    phone.open("/deeds").await;
    phone.sees("Product Spray wax is saved.").await;
}

async fn every_page_of_the_setup_is_for_everybody(stage: Stage) {
    let shop = Shop::demo("2026-03-02").await;
    shop.person("ada", Role::Owner).await;
    for look in Look::ALL {
        let person = stage.before(&shop, look).await;
        person.signs_in("ada").await;
        for path in [
            "/more",
            "/setup",
            "/setup/start",
            "/setup/shop",
            "/setup/suppliers",
            "/setup/suppliers/north-dock",
            "/setup/products",
            "/setup/products/wash-shampoo",
            "/setup/job-types",
            "/setup/job-types/wash",
            "/setup/folder",
            "/people",
            "/people/me",
            "/people/tokens",
            "/deeds",
        ] {
            person.open(path).await;
            person.is_for_everybody().await;
            assert!(person.page_bytes().await < 100_000, "{path}");
        }
    }
}
