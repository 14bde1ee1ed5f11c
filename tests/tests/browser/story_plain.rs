//! The day's main paths where scripts do not run: all of them work, but for what waits for signal.

use capful_domain::JobStatus;
use capful_store::Role;
use chrono::TimeDelta;

use crate::in_a_browser;
use crate::stage::{Browser, Look, Shop, Stage};

in_a_browser!(a_day_without_scripts);

async fn a_day_without_scripts(stage: Stage) {
    for look in [Look::PHONE.without_scripts(), Look::LAPTOP.without_scripts()] {
        let shop = Shop::two_gulls().await;
        let owner = stage.signed_in_as(Role::Owner, &shop, look).await;
        books(&owner).await;
        on_the_shelf(&shop, &owner).await;
        orders_and_receives(&shop, &owner).await;
        finishes(&shop, &owner).await;
        let checked = shop.store.check(shop.id()).await.unwrap();
        assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
    }
}

async fn books(owner: &Browser) {
    owner.tap("Jobs").await;
    owner.tap("Book Tuesday 3").await;
    owner.tap("Ceramic coating").await;
    owner.fill("Vehicle", "GULL 606").await;
    owner.tap("Look first").await;
    owner.sees("What the shelf says").await;
    owner.tap("Book").await;
    owner.sees("is booked").await;
}

async fn on_the_shelf(shop: &Shop, owner: &Browser) {
    shop.pass(TimeDelta::minutes(5));
    owner.open("/shelf/coating").await;
    owner.tap("Open").await;
    owner.tap("It is open").await;
    owner.sees("The opening of").await;
    owner.open("/shelf/iron-remover").await;
    owner.tap("Pour").await;
    owner.fill("How much", "2").await;
    owner.choose("Measure", "caps").await;
    owner.tap("Write the pour down").await;
    owner.sees("−30 mL").await;
    owner.tap("Undo").await;
    owner.sees("Undone").await;
    owner.tap("Shelf").await;
    owner.tap("Count the shelf").await;
    owner.fill("Sealed containers that you see", "0").await;
    owner.fill("What the open ones hold together", "1500").await;
    owner.tap("Write the count down").await;
    owner.sees("The count of").await;
    owner.sees("2 of 3").await;
}

async fn orders_and_receives(shop: &Shop, owner: &Browser) {
    owner.tap("Order").await;
    owner.sees("Weekly order").await;
    // Whatever is advised: something is added by hand, looked over, and placed.
    owner.tap(&owner.first_named("from North Dock Supply").await).await;
    let last = "return [...document.querySelector('select[name^=\"more-\"]').options].at(-1).text;";
    let last = owner.ask(last, vec![]).await.as_str().unwrap().to_owned();
    owner.choose("Also from North Dock Supply", &last).await;
    let see = owner.first_named("See what that does").await;
    owner.tap(&see).await;
    owner.sees("Added by you").await;
    owner.tap("Place with North Dock Supply").await;
    owner.sees("is placed.").await;
    owner.tap("Put it on the shelf").await;
    owner.sees("What came in of").await;
    owner.sees("All of it came").await;
    let facts = shop.store.facts(shop.id(), None).await.unwrap();
    let order = facts.orders.last().unwrap();
    assert!(facts.receipts.iter().any(|receipt| receipt.order.as_ref() == Some(&order.id)));
}

async fn finishes(shop: &Shop, owner: &Browser) {
    shop.pass(TimeDelta::days(2));
    owner.tap("Today").await;
    owner.tap("Finish GULL 404").await;
    owner.tap("Done").await;
    owner.sees("Job J-4 is finished").await;
    let job = shop.store.get::<capful_domain::Job>(shop.id(), "J-4").await.unwrap().row;
    assert_eq!(job.status, JobStatus::Done);
}
