//! A week's order, from the plan to the shelf, and what goes off.

use capful_domain::Word;
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(a_week_is_ordered_and_received, what_is_past_is_thrown_away);

async fn a_week_is_ordered_and_received(stage: Stage) {
    let shop = Shop::demo("2026-11-25").await;
    for look in Look::ALL {
        let person = stage.signed_in(&shop, look).await;
        for path in ["/order", "/orders", "/going-off"] {
            person.open(path).await;
            person.is_for_everybody().await;
        }
    }
    let phone = stage.signed_in(&shop, Look::PHONE).await;
    phone.open("/order").await;
    phone.sees("Quarry Steps Cloth and Paper").await;
    phone.fill("Packs of Nitrile gloves, box of 100", "1").await;
    phone.fill("Packs of Clay bar, 100 g", "0").await;
    phone.tap("See what that does").await;
    phone.sees("With 1 instead of 2 the chance of a stall is").await;
    phone.sees("Left out").await;
    phone.is_for_everybody().await;
    phone.screenshot("order-changed").await;
    phone.tap("Place with Quarry Steps Cloth and Paper").await;
    phone.sees("is placed.").await;
    phone.fill("Containers that came of Nitrile gloves, box of 100", "0").await;
    phone.tap("Put it on the shelf").await;
    phone.sees("What came in of").await;
    phone.sees("1 container is still to come.").await;
    phone.is_for_everybody().await;
    phone.screenshot("order-in-part").await;
    let orders = shop.store.facts(shop.id(), None).await.unwrap().orders;
    let status = orders.last().unwrap().status.map(Word::word);
    assert_eq!(status, Some("placed"), "the rest is still open");
    phone.tap("Print or send").await;
    phone.sees("Q1444").await;
    phone.is_for_everybody().await;
}

async fn what_is_past_is_thrown_away(stage: Stage) {
    let shop = Shop::demo("2026-11-25").await;
    // All of it works without the script, and a helper sees no money.
    let look = Look::PHONE.without_scripts();
    let phone = stage.signed_in_as(Role::Helper, &shop, look).await;
    phone.open("/going-off").await;
    phone.sees("Past their use-by").await;
    phone.does_not_see("CAD").await;
    phone.tap("Throw away").await;
    phone.sees("What was thrown away of").await;
    phone.does_not_see("Past their use-by").await;
    phone.is_for_everybody().await;
    phone.tap("Undo").await;
    phone.sees("Past their use-by").await;
    phone.open("/order").await;
    phone.sees("The owner places orders.").await;
    phone.does_not_see("CAD").await;
    phone.is_for_everybody().await;
}
