//! From the first run to the first order, in one go: nothing is there at first but the code that
//! the service printed.

use capful_domain::Product;
use chrono::TimeDelta;

use crate::in_a_browser;
use crate::stage::{Browser, Look, PASSWORD, Shop, Stage};

in_a_browser!(from_the_first_run_to_the_first_order);

async fn from_the_first_run_to_the_first_order(stage: Stage) {
    for look in [Look::PHONE, Look::LAPTOP] {
        // A Monday, eight in the morning in Halifax.
        let shop = Shop::nothing("2026-03-02T12:00:00Z".parse().unwrap()).await;
        let owner = stage.before(&shop, look).await;
        opens(&shop, &owner).await;
        starts_with_the_set(&owner).await;
        says_who_sells_it(&owner).await;
        counts(&shop, &owner).await;
        shop.pass(TimeDelta::minutes(5));
        books(&owner).await;
        orders(&shop, &owner).await;
    }
}

async fn opens(shop: &Shop, owner: &Browser) {
    owner.open("/").await;
    owner.is_at("/welcome").await;
    owner.fill("Code that the service printed", &shop.first_run_code).await;
    owner.fill("Name on the door", "Low Tide Detailing").await;
    owner.fill("Time zone", "America/Halifax").await;
    owner.fill("Currency", "CAD").await;
    owner.fill("Your name", "Ines").await;
    owner.fill("Name to sign in with", "ines").await;
    owner.fill("Password", PASSWORD).await;
    owner.tap("Open the shop").await;
    owner.sees("An empty shelf").await;
}

async fn starts_with_the_set(owner: &Browser) {
    owner.tap("Set up the shop").await;
    owner.is_at("/setup").await;
    owner.tap("Look at the set").await;
    owner.sees("common practice").await;
    owner.tap("Add what is ticked").await;
    owner.sees("What was new was taken over.").await;
    owner.sees("12 job types").await;
    owner.is_for_everybody().await;
}

async fn says_who_sells_it(owner: &Browser) {
    owner.tap("Suppliers and offers").await;
    owner.tap("Add a supplier").await;
    owner.fill("Name", "North Dock Supply").await;
    owner.fill("Days from order to shelf", "3").await;
    owner.tap("Save").await;
    owner.sees("is saved.").await;
    owner.choose("Product", "Wash shampoo").await;
    owner.fill("Price of the pack, CAD", "24.00").await;
    owner.tap("Add the offer").await;
    owner.sees("1 in a pack, CAD 24.00").await;
}

async fn counts(shop: &Shop, owner: &Browser) {
    owner.tap("Shelf").await;
    owner.fill("Find by name, category or barcode", "shampoo").await;
    owner.tap("Find").await;
    owner.tap("Wash shampoo").await;
    owner.tap("Count or weigh").await;
    owner.fill("Sealed containers that you see", "0").await;
    owner.fill("What the open ones hold together", "10").await;
    owner.tap("Write the count down").await;
    owner.sees("The count of").await;
    owner.sees("10 mL left").await;
    // The rest of the shelf is gone through from bottle to bottle.
    owner.tap("Shelf").await;
    owner.tap("Count the shelf").await;
    owner.fill("Sealed containers that you see", "2").await;
    owner.tap("Write the count down").await;
    owner.sees("The count of").await;
    let (id, _) = shop.store.shops().await.unwrap().remove(0);
    let facts = shop.store.facts(id, None).await.unwrap();
    let counted: Vec<&str> = facts.counts.iter().map(|count| count.product.as_str()).collect();
    assert_eq!(counted.len(), 2, "{counted:?}");
    assert_ne!(counted[0], counted[1]);
}

async fn books(owner: &Browser) {
    owner.tap("Jobs").await;
    owner.tap("Book Thursday 5").await;
    owner.holds("Day", "2026-03-05").await;
    owner.tap("Maintenance wash").await;
    owner.fill("Vehicle", "blue estate, GUL 101").await;
    owner.tap("Look first").await;
    // 10 mL of shampoo is left, and such a wash takes about 30.
    owner.sees("What the shelf says").await;
    owner.sees("Wash shampoo").await;
    owner.tap("Book").await;
    owner.sees("is booked").await;
    owner.sees("Thursday 5 March 2026").await;
    owner.is_for_everybody().await;
}

async fn orders(shop: &Shop, owner: &Browser) {
    owner.tap("Order").await;
    owner.is_at("/order").await;
    owner.sees("Wash shampoo").await;
    owner.sees("A job stalls for it").await;
    owner.is_for_everybody().await;
    owner.tap("Place with North Dock Supply").await;
    owner.sees("is placed.").await;
    owner.sees("still to come.").await;
    owner.tap("All orders").await;
    owner.sees("North Dock Supply").await;
    owner.sees("to come; by the supplier’s word by Thursday").await;
    owner.screenshot("first-order").await;
    let (id, _) = shop.store.shops().await.unwrap().remove(0);
    let facts = shop.store.facts(id, None).await.unwrap();
    assert_eq!((facts.orders.len(), facts.order_lines.len()), (1, 1));
    assert_eq!(facts.order_lines[0].product.as_str(), "wash-shampoo");
    assert!(shop.store.get::<Product>(id, "wash-shampoo").await.is_ok());
    let checked = shop.store.check(id).await.unwrap();
    assert!(checked.wrong.is_empty(), "{:?}", checked.wrong);
}
