//! A helper: sees no costs and no setup, does what happens on the shelf and in the calendar, and is
//! told whose the rest is.

use capful_store::Role;

use crate::in_a_browser;
use crate::pages::of_the_demo;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(a_helper_sees_no_costs_and_no_setup, a_helper_does_what_a_helper_may);

async fn a_helper_sees_no_costs_and_no_setup(stage: Stage) {
    let shop = Shop::demo("2026-03-03").await;
    for look in [Look::PHONE, Look::LAPTOP] {
        let helper = stage.signed_in_as(Role::Helper, &shop, look).await;
        let mut owners = 0;
        for page in of_the_demo(&shop).await {
            helper.open(&page.path).await;
            if page.is_owners() {
                helper.sees("Costs, people and how the shop is set up are the owner's").await;
                owners += 1;
            }
            let text = helper.text().await;
            assert!(!text.contains("CAD"), "{}: {text}", page.path);
            let inside = "return [...document.querySelectorAll('a[href^=\"/setup\"], \
                          a[href=\"/costs\"], a[href=\"/people\"], a[href=\"/people/tokens\"], \
                          [name=unit_cost], [name=price], [name=place]')].map((one) => \
                          one.outerHTML);";
            let found = helper.ask(inside, vec![]).await;
            assert_eq!(found, serde_json::json!([]), "{}", page.path);
        }
        assert_eq!(owners, 18);
        // What is the owner's is said with a way on.
        helper.open("/setup/shop").await;
        helper.is_for_everybody().await;
        helper.tap("To today").await;
        helper.is_at("/").await;
    }
}

async fn a_helper_does_what_a_helper_may(stage: Stage) {
    for look in [Look::PHONE, Look::LAPTOP] {
        let shop = Shop::two_gulls().await;
        let helper = stage.signed_in_as(Role::Helper, &shop, look).await;
        helper.open("/shelf/iron-remover").await;
        helper.tap("Pour").await;
        helper.fill("How much", "30").await;
        helper.tap("Write the pour down").await;
        helper.sees("The pour of").await;
        helper.tap("Count or weigh").await;
        helper.fill("What the open ones hold together", "800").await;
        helper.tap("Write the count down").await;
        helper.sees("The count of").await;
        helper.open("/orders/O-1").await;
        helper.fill("Containers that came of Iron remover", "0").await;
        helper.tap("Put it on the shelf").await;
        helper.sees("What came in of Silica coating is on the shelf.").await;
        helper.tap("Undo").await;
        helper.sees("Undone").await;
        helper.open("/jobs/J-4/finish").await;
        helper.tap("Done").await;
        helper.sees("Job J-4 is finished").await;
        // Placing orders and cancelling them is the owner's.
        helper.tap("Order").await;
        helper.sees("The owner places orders.").await;
        helper.does_not_see("Place with").await;
        // What the owner set up is the owner's to undo.
        helper.tap("More").await;
        helper.tap("Who did what").await;
        helper.sees("The pour of Iron remover is written down.").await;
        helper.does_not_see("CAD").await;
    }
}
