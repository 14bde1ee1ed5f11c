//! The weekly order, orders and what goes off, on their pages.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use capful_store::Role;
use common::TestShop;
use common::people::Shown;
use reqwest::StatusCode;
use serde_json::Value;

/// Fields of lines of North Dock: product, code, packs.
fn lines<'f>(rows: &[[&'f str; 3]]) -> Vec<(&'f str, &'f str)> {
    let row = |[product, code, packs]: &[&'f str; 3]| {
        [("supplier", "north-dock"), ("product", *product), ("code", *code), ("packs", *packs)]
    };
    rows.iter().flat_map(row).collect()
}

/// Every order, as programs see it.
async fn orders(shop: &TestShop) -> Vec<Value> {
    let list = shop.reader().await.see("/api/v1/orders").await;
    list["items"].as_array().unwrap().clone()
}

async fn containers(shop: &TestShop, product: &str) -> Vec<Value> {
    let path = format!("/api/v1/containers?product={product}");
    let list = shop.reader().await.see(&path).await;
    list["items"].as_array().unwrap().clone()
}

#[tokio::test]
async fn the_order_is_looked_over_with_its_freight_and_its_total() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let seven = lines(&[["iron-remover", "ND-2", "7"]]);
    let Shown { status, html: text, .. } = owner.sends("/order", &seven).await;
    assert_eq!(status, StatusCode::OK);
    assert!(text.contains("7 × 1 L"), "{text}");
    // 7 × 19.50 and a delivery of 12.00; the delivery is free from 150.00 on.
    for said in ["CAD 136.50", "CAD 12.00", "CAD 148.50", "CAD 13.50 more"] {
        assert!(text.contains(said), "{said}: {text}");
    }
    let eight = lines(&[["iron-remover", "ND-2", "8"]]);
    let text = owner.sends("/order", &eight).await.html;
    assert!(text.contains("CAD 156.00") && text.contains("CAD 0.00"), "{text}");
    assert!(text.contains("is free from CAD 150.00 on"), "{text}");
    // What was only picked is there with the least that is sold.
    let picked = [("more-north-dock", "wash:ND-1")];
    let text = owner.sends("/order", &picked).await.html;
    assert!(text.contains("Foaming soap") && text.contains("CAD 38.00"), "{text}");
    assert_eq!(orders(&shop).await.len(), 1, "looking places nothing");
}

#[tokio::test]
async fn an_order_is_placed_once_with_the_packs_that_were_chosen() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let mut fields = lines(&[["iron-remover", "ND-2", "3"], ["wash", "ND-1", "0"]]);
    fields.push(("place", "north-dock"));
    let first = owner.sends_as("one", "/order", &fields).await;
    let again = owner.sends_as("one", "/order", &fields).await;
    assert_eq!((first.status, &first.to), (StatusCode::SEE_OTHER, &again.to));
    let all = orders(&shop).await;
    assert_eq!(all.len(), 2);
    let lines = all[1]["lines"].as_array().unwrap();
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert_eq!(lines[0]["product"], "iron-remover");
    assert_eq!(lines[0]["packs"], 3);
    assert_eq!(lines[0]["supplier_code"], "ND-2");
    let text = owner.sees(&first.to).await;
    assert!(text.contains("Iron remover") && text.contains("3 to come"), "{text}");
}

#[tokio::test]
async fn what_is_no_order_is_refused_with_what_was_typed() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let place = |packs| {
        let mut fields = lines(&[["iron-remover", "ND-2", packs]]);
        fields.push(("place", "north-dock"));
        fields
    };
    let text = owner.is_refused("/order", &place("two")).await;
    assert!(text.contains("Iron remover") && text.contains("found two"), "{text}");
    assert!(text.contains("value=\"two\""), "{text}");
    let text = owner.is_refused("/order", &place("0")).await;
    assert!(text.contains("Every line is left out"), "{text}");
    assert_eq!(orders(&shop).await.len(), 1);
}

#[tokio::test]
async fn below_the_minimum_is_placed_only_once_it_was_seen() {
    let mut facts = common::two_gulls();
    facts.suppliers[0].minimum_order = capful_domain::Money::from_minor(10_000);
    let shop = TestShop::open_with(facts, capful_api::Settings::default()).await;
    let owner = shop.signed_in(Role::Owner).await;
    let mut fields = lines(&[["iron-remover", "ND-2", "1"]]);
    fields.push(("place", "north-dock"));
    let text = owner.is_refused("/order", &fields).await;
    assert!(text.contains("CAD 80.50 short of the minimum order of CAD 100.00"), "{text}");
    assert_eq!(orders(&shop).await.len(), 1);
    fields.push(("anyway", "north-dock"));
    owner.leads("/order", &fields).await;
    assert_eq!(orders(&shop).await.len(), 2);
}

#[tokio::test]
async fn a_helper_sees_no_money_and_places_nothing() {
    let shop = TestShop::open().await;
    let (owner, helper) = (shop.signed_in(Role::Owner).await, shop.signed_in(Role::Helper).await);
    let see = lines(&[["iron-remover", "ND-2", "1"]]);
    assert!(owner.sends("/order", &see).await.html.contains("CAD"));
    for path in ["/order", "/orders", "/orders/O-1", "/orders/O-1/print", "/going-off"] {
        let text = helper.sees(path).await;
        assert!(!text.contains("CAD"), "{path}: {text}");
        assert!(!text.contains("unit_cost") && !text.contains("name=\"place\""), "{path}: {text}");
    }
    let mut fields = lines(&[["iron-remover", "ND-2", "1"]]);
    fields.push(("place", "north-dock"));
    let status = helper.sends("/order", &fields).await.status;
    assert_eq!(status, StatusCode::FORBIDDEN);
    let status = helper.sends("/orders/O-1/cancel", &[]).await.status;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert_eq!(orders(&shop).await.len(), 1);
}

#[tokio::test]
async fn a_short_delivery_leaves_the_rest_open() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let page = helper.sees("/orders/O-1").await;
    assert!(page.contains("1 came, 1 to come"), "{page}");
    let fields = [
        ("product", "coating"),
        ("containers", "1"),
        ("lot", "B2300"),
        ("best_before", "2027-04-30"),
        // Not the helper's to say.
        ("unit_cost", "1"),
        ("product", "iron-remover"),
        ("containers", "0"),
        ("lot", ""),
        ("best_before", ""),
        ("product", ""),
        ("containers", ""),
    ];
    assert_eq!(helper.leads("/orders/O-1/receive", &fields).await, "/orders/O-1");
    let all = containers(&shop, "coating").await;
    let came = all.last().unwrap();
    assert_eq!(came["lot"], "B2300", "{came}");
    let receipt = shop.store.facts(shop.shop, None).await.unwrap().receipts.pop().unwrap();
    assert_eq!(receipt.unit_cost.minor(), 6100, "as it was offered");
    let page = helper.sees("/orders/O-1").await;
    assert!(page.contains("all 2 came") && page.contains("1 container is still to come"), "{page}");
    // The rest will not come.
    helper.leads("/orders/O-1/end", &[]).await;
    assert_eq!(orders(&shop).await[0]["status"], "received");
    let page = helper.sees("/orders/O-1").await;
    assert!(page.contains("0 came, 1 did not"), "{page}");
}

#[tokio::test]
async fn a_dearer_price_and_the_wrong_thing_are_written_down_with_the_end() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let fields = [
        ("product", "coating"),
        ("containers", "1"),
        ("unit_cost", "63,50"),
        ("product", "iron-remover"),
        ("containers", "0"),
        ("unit_cost", "19.50"),
        ("product", "wash"),
        ("containers", "1"),
        ("unit_cost", ""),
        ("rest", "1"),
    ];
    owner.leads("/orders/O-1/receive", &fields).await;
    let facts = shop.store.facts(shop.shop, None).await.unwrap();
    let [.., coating, wash] = facts.receipts.as_slice() else { panic!("{:?}", facts.receipts) };
    assert_eq!((coating.product.as_str(), coating.unit_cost.minor()), ("coating", 6350));
    assert_eq!((wash.product.as_str(), wash.unit_cost.minor()), ("wash", 3800));
    assert_eq!(orders(&shop).await[0]["status"], "received");
    let page = owner.sees("/orders/O-1").await;
    assert!(page.contains("not ordered"), "{page}");
}

#[tokio::test]
async fn what_is_wrong_with_a_receipt_is_told_by_its_product_and_nothing_is_lost() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let before = containers(&shop, "coating").await.len();
    let fields = [
        ("product", "coating"),
        ("containers", "1"),
        ("lot", "B2300"),
        ("best_before", "soon"),
        ("unit_cost", "61.00"),
    ];
    let text = owner.is_refused("/orders/O-1/receive", &fields).await;
    assert!(text.contains("Silica coating, best before"), "{text}");
    assert!(text.contains("value=\"B2300\"") && text.contains("value=\"soon\""), "{text}");
    let nothing = [("product", "coating"), ("containers", "0")];
    let text = owner.is_refused("/orders/O-1/receive", &nothing).await;
    assert!(text.contains("nothing was written down"), "{text}");
    let unnamed = [("product", ""), ("containers", "2")];
    let text = owner.is_refused("/orders/O-1/receive", &unnamed).await;
    assert!(text.contains("say which product came"), "{text}");
    assert_eq!(containers(&shop, "coating").await.len(), before);
    assert_eq!(owner.get("/orders/O-9").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn an_order_is_cancelled_while_nothing_came() {
    let shop = TestShop::open().await;
    let (owner, helper) = (shop.signed_in(Role::Owner).await, shop.signed_in(Role::Helper).await);
    let text = owner.is_refused("/orders/O-1/cancel", &[]).await;
    assert!(text.contains("the rest will not come"), "{text}");
    let mut fields = lines(&[["iron-remover", "ND-2", "1"]]);
    fields.push(("place", "north-dock"));
    let path = owner.leads("/order", &fields).await;
    let text = helper.is_refused(&format!("{path}/end"), &[]).await;
    assert!(text.contains("the owner can cancel it"), "{text}");
    owner.leads(&format!("{path}/cancel"), &[]).await;
    assert_eq!(orders(&shop).await[1]["status"], "cancelled");
    let text = owner.sees(&path).await;
    assert!(text.contains("Cancelled") && !text.contains("/receive"), "{text}");
}

#[tokio::test]
async fn an_order_on_paper_has_codes_and_packs_and_no_prices() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let mut fields = lines(&[["iron-remover", "ND-2", "3"]]);
    fields.push(("place", "north-dock"));
    let path = owner.leads("/order", &fields).await;
    let text = owner.sees(&format!("{path}/print")).await;
    let said = ["North Dock Supply", "Two Gulls Detailing", "ND-2", "Iron remover", "2 March 2026"];
    for said in said {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert!(!text.contains("CAD") && text.contains("data-print"), "{text}");
}

#[tokio::test]
async fn what_is_past_its_use_by_comes_first_and_is_thrown_away() {
    let shop = TestShop::open().await;
    // A coating is good for seven days once it is open.
    let opened = serde_json::json!({ "product": "coating" });
    shop.helper().await.post("/openings", &opened).await;
    let owner = shop.signed_in(Role::Owner).await;
    assert!(owner.sees("/going-off").await.contains("Use these before you open another"));
    shop.pass(chrono::TimeDelta::days(9));
    assert!(owner.sees("/going-off").await.contains("CAD"));
    let helper = shop.signed_in(Role::Helper).await;
    let text = helper.sees("/going-off").await;
    assert!(!text.contains("CAD"), "{text}");
    let container = text.split("name=\"container\" value=\"").nth(1).expect(&text);
    let container = container.split('"').next().unwrap().to_owned();
    assert!(text.contains(&format!("/containers/{container}")), "{text}");
    assert!(text.contains("Past their use-by") && text.contains("Throw away"), "{text}");
    let fields = [("product", "coating"), ("container", container.as_str()), ("reason", "expired")];
    helper.leads("/going-off", &fields).await;
    let discard = shop.store.facts(shop.shop, None).await.unwrap().discards.pop().unwrap();
    assert_eq!(discard.container.unwrap().to_string(), container);
    let text = helper.sees("/going-off").await;
    assert!(!text.contains(&format!("value=\"{container}\"")), "{text}");
}
