//! The shelf, as people with wet hands use it: a mix and a pour, and stock-taking with a scale.

use capful_domain::{Container, ContainerState};
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Look, Shop, Stage};

in_a_browser!(
    a_bottle_is_mixed_and_poured,
    the_shelf_is_counted_with_a_scale,
    the_shelf_is_for_everybody,
);

async fn a_bottle_is_mixed_and_poured(stage: Stage) {
    let shop = Shop::demo("2026-03-03").await;
    for look in [Look::PHONE, Look::LAPTOP.without_scripts()] {
        let helper = stage.signed_in_as(Role::Helper, &shop, look).await;
        helper.tap("Shelf").await;
        helper.fill("Find by name, category or barcode", "degreaser").await;
        helper.tap("Find").await;
        helper.tap("Degreaser concentrate, 5 L").await;
        helper.is_at("/shelf/degreaser").await;
        helper.tap("Mix").await;
        helper.fill("The bottle holds", "600").await;
        helper.fill("Parts of water to one part of product", "5").await;
        helper.tap("Work it out").await;
        helper.sees("500 mL water first").await;
        helper.sees("never water into it").await;
        helper.tap("I mixed 600 mL at 5:1").await;
        helper.sees("The mix of").await;
        helper.sees("Mix 5:1").await;
        helper.tap("Pour").await;
        helper.fill("How much", "40").await;
        helper.tap("Write the pour down").await;
        helper.sees("The pour of").await;
        helper.tap("Undo").await;
        helper.sees("Undone").await;
    }
}

async fn the_shelf_is_counted_with_a_scale(stage: Stage) {
    let shop = Shop::demo("2026-03-03").await;
    let phone = stage.signed_in_as(Role::Helper, &shop, Look::PHONE).await;
    phone.open("/count").await;
    phone.sees("1 of 36").await;
    phone.tap("Skip").await;
    phone.sees("2 of 36").await;
    // One that was opened stands on the scale: empty it weighs 31 g, a millilitre 1.02 g.
    let rows = shop.store.containers(shop.id(), None, true).await.unwrap();
    let is_sealed = |row: &&Container| row.state() == ContainerState::Sealed;
    let mut sealed = rows.iter().filter(is_sealed);
    let sealed = sealed.find(|row| row.product.as_str() == "paint-coating-50").unwrap();
    phone.open(&format!("/containers/{}", sealed.id)).await;
    phone.tap("Open").await;
    phone.tap("It is open").await;
    phone.sees("The opening of").await;
    phone.tap("Count or weigh").await;
    phone.fill("Or its weight on the scale", "51.4").await;
    phone.tap("Write the count down").await;
    phone.sees("20 mL left").await;
}

async fn the_shelf_is_for_everybody(stage: Stage) {
    let shop = Shop::demo("2026-03-03").await;
    let rows = shop.store.containers(shop.id(), None, true).await.unwrap();
    let open = rows.iter().find(|row| row.product.as_str() == "paint-coating-50").unwrap();
    let container = format!("/containers/{}", open.id);
    let label = format!("/labels?c={}", open.id);
    let mix = "/shelf/apc?act=mix&bottle=500&measure=mL&water=4";
    for look in Look::ALL {
        let person = stage.signed_in(&shop, look).await;
        let pages = ["/shelf", "/shelf/wheel-acid", mix, &container, &label, "/count"];
        for page in pages {
            person.open(page).await;
            // What is folded away is looked through too.
            person
                .ask(
                    "document.querySelectorAll('details').forEach((d) => { d.open = true; });",
                    vec![],
                )
                .await;
            person.is_for_everybody().await;
            person.screenshot(&format!("shelf-{}", page.len())).await;
        }
    }
}
