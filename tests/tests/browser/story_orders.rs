//! A week's order, from the plan to the shelf, and what goes off.

use capful_domain::Word;
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(
    a_week_is_ordered_and_received,
    an_order_comes_wrong_and_dearer,
    what_is_past_is_thrown_away,
);

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
    phone.tap_by("Nitrile gloves, box of 100", "See what that does").await;
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

async fn an_order_comes_wrong_and_dearer(stage: Stage) {
    for look in [Look::PHONE, Look::LAPTOP] {
        let shop = Shop::demo("2026-11-25").await;
        let before = shop.store.facts(shop.id(), None).await.unwrap().receipts.len();
        let owner = stage.signed_in(&shop, look).await;
        owner.open("/order").await;
        owner.tap("Place with Quarry Steps Cloth and Paper").await;
        owner.sees("is placed.").await;
        // The gloves are dearer; in place of the clay something came that nobody ordered.
        owner.fill_by("Nitrile gloves, box of 100", "Price of one container", "21.35").await;
        owner.fill("Containers that came of Clay bar, 100 g", "0").await;
        owner.tap("The wrong thing came, or something else").await;
        owner.choose("Product", "Drying towel").await;
        owner.fill_by("what came in its place", "Containers that came", "1").await;
        owner.tap("The rest will not come").await;
        owner.tap("Put it on the shelf").await;
        owner.sees("not ordered").await;
        owner.sees("0 came, 8 did not").await;
        owner.is_for_everybody().await;
        owner.screenshot("order-wrong").await;
        let facts = shop.store.facts(shop.id(), None).await.unwrap();
        let came = &facts.receipts[before..];
        let of = |product: &str| came.iter().find(|receipt| receipt.product.as_str() == product);
        let gloves = of("nitrile-gloves").unwrap();
        let cents = gloves.unit_cost.minor();
        assert_eq!((gloves.containers, cents), (2, 2135));
        assert_eq!(of("drying-towel").unwrap().order, gloves.order, "it came with the order");
        assert!(of("clay-bar").is_none());
        let status = facts.orders.last().unwrap().status.map(Word::word);
        assert_ne!(status, Some("placed"), "nothing is waited for any more");
        let checked = shop.store.check(shop.id()).await.unwrap();
        assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
    }
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
