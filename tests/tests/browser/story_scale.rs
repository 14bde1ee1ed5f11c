//! Stock-taking with a scale, from the first bottle to the last.

use capful_domain::{Id, Quantity};
use capful_store::Role;

use crate::in_a_browser;
use crate::stage::{Browser, Look, Shop, Stage, two_gulls};

in_a_browser!(the_whole_shelf_is_counted_with_a_scale);

/// What an empty bottle of iron remover weighs.
const TARE_G: i64 = 85;

async fn the_whole_shelf_is_counted_with_a_scale(stage: Stage) {
    // 700 mL of 1.05 g each, and the bottle: 820 g, which is 28.92 oz.
    for (look, scale, shown) in [(Look::PHONE, "g", "820"), (Look::LAPTOP, "oz", "28.92")] {
        let shop = weighing().await;
        let helper = stage.signed_in_as(Role::Helper, &shop, look).await;
        helper.tap("Shelf").await;
        helper.tap("Count the shelf").await;
        // Nobody has the soap at hand now.
        helper.sees("1 of 3").await;
        helper.sees("Foaming soap").await;
        helper.tap("Skip").await;
        weighs(&shop, &helper, scale, shown).await;
        helper.sees("3 of 3").await;
        helper.sees("Silica coating").await;
        helper.fill("Sealed containers that you see", "2").await;
        helper.tap("Write the count down").await;
        helper.sees("2 of 3 products are counted today.").await;
        helper.tap("Go through the skipped ones").await;
        helper.sees("Foaming soap").await;
        helper.fill("Sealed containers that you see", "0").await;
        helper.fill("What the open ones hold together", "3100").await;
        helper.tap("Write the count down").await;
        helper.sees("3 of 3 products are counted today.").await;
        helper.is_for_everybody().await;
        helper.tap("To the shelf").await;
        helper.sees("3.1 L left").await;
        helper.does_not_see("Count the shelf: ").await;
        let counts = shop.store.facts(shop.id(), None).await.unwrap().counts;
        assert_eq!(counts.len(), 3);
        let checked = shop.store.check(shop.id()).await.unwrap();
        assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
    }
}

/// The small shop, whose iron remover can be weighed in its bottle.
async fn weighing() -> Shop {
    let mut facts = two_gulls();
    let mut products = facts.products.iter_mut();
    let iron = products.find(|own| own.id.as_str() == "iron-remover").unwrap();
    iron.tare_g = Some(TARE_G.into());
    iron.density_g_ml = Some("1.05".parse().unwrap());
    Shop::with(&facts, "2026-03-02T12:00:00Z".parse().unwrap()).await
}

async fn weighs(shop: &Shop, helper: &Browser, scale: &str, shown: &str) {
    helper.sees("2 of 3").await;
    helper.sees("Iron remover").await;
    helper.sees("Empty it weighs 85 g").await;
    helper.is_for_everybody().await;
    helper.fill("Sealed containers that you see", "0").await;
    helper.fill("Or its weight on the scale", shown).await;
    helper.choose("Scale shows", scale).await;
    helper.tap("Write the count down").await;
    helper.sees("The count of").await;
    let id = Id::parse("iron-remover").unwrap();
    let rows = shop.store.containers(shop.id(), Some(&id), true).await.unwrap();
    let left: Quantity = rows.iter().map(|row| row.left).sum();
    // A hundredth of an ounce is 0.27 mL of it.
    assert!(left.ledger_units().abs_diff(700_000) < 270, "{left:?}");
}
