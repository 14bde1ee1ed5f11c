//! The day's main paths by the keyboard alone: it comes to everything, in the order of the page, it
//! can be seen where it is, and Tab, Enter, Space and the arrows do all of it.

use capful_domain::JobStatus;
use chrono::TimeDelta;

use crate::in_a_browser;
use crate::stage::{Browser, Look, PASSWORD, Shop, Stage};

in_a_browser!(the_keyboard_comes_to_everything, a_day_by_the_keyboard_alone);

async fn the_keyboard_comes_to_everything(stage: Stage) {
    let shop = Shop::two_gulls().await;
    for look in [Look::PHONE, Look::LAPTOP] {
        let owner = stage.signed_in(&shop, look).await;
        for path in [
            "/",
            "/jobs/J-4/finish",
            "/shelf",
            "/shelf/coating",
            "/containers/R-4/1",
            "/count",
            "/order",
            "/orders/O-1",
            "/going-off",
            "/jobs",
            "/jobs/new",
            "/more",
        ] {
            owner.open(path).await;
            owner.tabs_through().await;
        }
    }
}

async fn a_day_by_the_keyboard_alone(stage: Stage) {
    for look in [Look::PHONE, Look::LAPTOP] {
        let shop = Shop::two_gulls().await;
        shop.person("owner", capful_store::Role::Owner).await;
        let owner = stage.before(&shop, look).await;
        signs_in(&owner).await;
        books(&owner).await;
        shop.pass(TimeDelta::minutes(5));
        pours_and_counts(&owner).await;
        receives(&owner).await;
        orders(&owner).await;
        shop.pass(TimeDelta::days(2));
        finishes(&shop, &owner).await;
    }
}

async fn presses(person: &Browser, name: &str) {
    person.tab_to(name).await;
    person.keys(&["Enter"]).await;
}

async fn signs_in(owner: &Browser) {
    owner.open("/sign-in").await;
    owner.tab_to("Sign-in name").await;
    owner.keys(&["owner"]).await;
    owner.tab_to("Password").await;
    owner.keys(&[PASSWORD, "Enter"]).await;
    owner.is_at("/").await;
    // What stands on every page is passed over at once.
    owner.keys(&["Tab"]).await;
    assert_eq!(owner.focused().await, "Skip to the page");
    owner.keys(&["Enter", "Tab"]).await;
    let inside = "return document.getElementById('main').contains(document.activeElement);";
    assert_eq!(owner.ask(inside, vec![]).await, true);
}

async fn books(owner: &Browser) {
    presses(owner, "Jobs").await;
    owner.sees("2 to 8 March, week 10").await;
    presses(owner, "Book Tuesday 3").await;
    owner.holds("Day", "2026-03-03").await;
    owner.tab_to(&owner.first_named("Maintenance wash").await).await;
    owner.keys(&["Space"]).await;
    owner.holds("Maintenance wash", "yes").await;
    owner.tab_to(&owner.first_named("Medium").await).await;
    owner.keys(&["Down"]).await;
    owner.holds(&owner.first_named("Large").await, "yes").await;
    owner.tab_to("Vehicle").await;
    owner.keys(&["GULL 707"]).await;
    presses(owner, "Book").await;
    owner.sees("is booked").await;
    owner.sees("Large, condition 3").await;
}

async fn pours_and_counts(owner: &Browser) {
    presses(owner, "Shelf").await;
    owner.is_at("/shelf").await;
    owner.tab_to("Find by name, category or barcode").await;
    owner.keys(&["iron", "Enter"]).await;
    owner.sees("1 product").await;
    owner.tab_to(&owner.first_named("Iron remover").await).await;
    owner.keys(&["Enter"]).await;
    owner.is_at("/shelf/iron-remover").await;
    presses(owner, "Pour").await;
    owner.tab_to("How much").await;
    owner.keys(&["30"]).await;
    presses(owner, "Write the pour down").await;
    owner.sees("The pour of").await;
    presses(owner, "Undo").await;
    owner.sees("Undone").await;
    presses(owner, "Count or weigh").await;
    owner.tab_to("What the open ones hold together: more").await;
    owner.keys(&["Space", "Space"]).await;
    presses(owner, "Write the count down").await;
    owner.sees("The count of").await;
}

async fn receives(owner: &Browser) {
    owner.open("/orders/O-1").await;
    owner.tab_to("Containers that came of Iron remover: less").await;
    owner.keys(&["Space"]).await;
    owner.holds("Containers that came of Iron remover", "0").await;
    presses(owner, "Put it on the shelf").await;
    owner.sees("1 container is still to come.").await;
}

async fn orders(owner: &Browser) {
    presses(owner, "Order").await;
    owner.sees("Weekly order").await;
    let place = owner.first_named("Place with").await;
    presses(owner, &place).await;
    owner.sees("is placed.").await;
}

async fn finishes(shop: &Shop, owner: &Browser) {
    presses(owner, "Today").await;
    owner.is_at("/").await;
    presses(owner, "Finish GULL 404").await;
    owner.is_at("/jobs/J-4/finish").await;
    presses(owner, "Done").await;
    owner.sees("Job J-4 is finished").await;
    let job = shop.store.get::<capful_domain::Job>(shop.id(), "J-4").await.unwrap().row;
    assert_eq!(job.status, JobStatus::Done);
}
