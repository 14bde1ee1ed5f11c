//! The pages of the shelf: what is done to products and containers, and who may see what.

#![allow(clippy::unwrap_used)]

mod common;

use capful_api::Settings;
use capful_domain::{Amount, Id, Product, Unit};
use capful_store::Role;
use chrono::TimeDelta;
use common::{TestShop, two_gulls};
use reqwest::StatusCode;

/// Asserts that a page says each of these.
fn says(html: &str, words: &[&str]) {
    for word in words {
        assert!(html.contains(word), "no {word:?} in {html}");
    }
}

/// What is left of a product, in thousandths of its unit.
async fn left(shop: &TestShop, product: &str) -> i64 {
    let answer = shop.reader().await.see(&format!("/api/v1/products/{product}")).await;
    (answer["left"]["amount"].as_f64().unwrap() * 1000.0).round() as i64
}

#[tokio::test]
async fn the_shelf_shows_products_as_their_containers() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let html = helper.sees("/shelf").await;
    says(&html, &["Iron remover", "Silica coating", "class=\"vessel", "mL left", "3 products"]);
    assert!(!html.contains("R-3/1"), "what was thrown away is not on the shelf");
    let html = helper.sees("/shelf?q=IRON").await;
    says(&html, &["Iron remover", "1 product"]);
    assert!(!html.contains("Silica coating"));
    says(&helper.sees("/shelf?q=wax").await, &["No product is called “wax”"]);
    assert_eq!(helper.get("/shelf/wax").await.status, StatusCode::NOT_FOUND);
    assert_eq!(helper.get("/containers/R-9/9").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_pour_is_for_a_job_is_done_once_and_can_be_undone() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let before = left(&shop, "iron-remover").await;
    let pour = [("act", "pour"), ("quantity", "2"), ("measure", "caps"), ("job", "J-4")];
    let first = helper.sends_as("one", "/shelf/iron-remover", &pour).await;
    let again = helper.sends_as("one", "/shelf/iron-remover", &pour).await;
    assert_eq!((first.status, &first.to), (StatusCode::SEE_OTHER, &again.to));
    assert_eq!(left(&shop, "iron-remover").await, before - 30_000);
    let html = helper.sees(&first.to).await;
    says(&html, &["The pour of", "−30 mL", "href=\"/jobs/J-4\"", "GULL 404", "Undo"]);
    let deed = first.to.split_once("done=").unwrap().1.to_owned();
    helper.does(&format!("/undo/{deed}"), &[("then", "/shelf/iron-remover")]).await;
    assert_eq!(left(&shop, "iron-remover").await, before);
}

#[tokio::test]
async fn what_is_wrong_is_told_with_what_was_typed_and_nothing_is_done() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let before = left(&shop, "iron-remover").await;
    let pour = [("act", "pour"), ("quantity", "a lot"), ("measure", "mL"), ("job", "J-4")];
    let shown = helper.sends("/shelf/iron-remover", &pour).await;
    assert_eq!(shown.status, StatusCode::UNPROCESSABLE_ENTITY);
    says(&shown.html, &["role=\"alert\"", "<b>Amount</b>", "a lot", "value=\"a lot\""]);
    let nothing = [("act", "pour"), ("quantity", "0.0001"), ("measure", "mL"), ("job", "J-4")];
    let shown = helper.sends("/shelf/iron-remover", &nothing).await;
    assert_eq!(shown.status, StatusCode::UNPROCESSABLE_ENTITY);
    says(&shown.html, &["at least 0.001 mL", "value=\"0.0001\""]);
    let other = helper.sends("/shelf/iron-remover", &[("act", "drink")]).await;
    assert_eq!(other.status, StatusCode::UNPROCESSABLE_ENTITY);
    // A container of another product is refused by the store, and told at its field.
    let other = [("act", "discard"), ("container", "R-1/1"), ("reason", "spilled")];
    let shown = helper.sends("/shelf/iron-remover", &other).await;
    assert_eq!(shown.status, StatusCode::UNPROCESSABLE_ENTITY);
    says(&shown.html, &["<b>Container</b>"]);
    assert_eq!(left(&shop, "iron-remover").await, before);
}

#[tokio::test]
async fn a_container_is_opened_weighed_and_thrown_away_on_its_own_page() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let page = "/containers/R-4/1";
    says(&helper.sees(page).await, &["Sealed", "B2290", "Silica coating", "class=\"qr\"", page]);
    // It is good for seven days once opened, or until the date on it.
    let html = helper.does(page, &[("act", "open")]).await;
    says(&html, &["<b>Open</b>", "Good until Mon 9 Mar, 7 days.", "class=\"life"]);
    shop.pass(TimeDelta::minutes(1));
    // No tare is set up, and a millilitre is taken as a gram.
    let weighed = [("act", "count"), ("gross_g", "8,5"), ("scale", "g")];
    says(&helper.does(page, &weighed).await, &["8.5 mL left", "Counted"]);
    shop.pass(TimeDelta::minutes(1));
    let html = helper.does(page, &[("act", "discard"), ("reason", "spilled")]).await;
    says(&html, &["<b>Thrown away</b>", "−8.5 mL"]);
}

#[tokio::test]
async fn a_mix_is_worked_out_and_written_down() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    // Five parts of water to one of product: a sixth of the bottle is product.
    let html = helper.sees("/shelf/wash?act=mix&bottle=600&measure=mL&water=5").await;
    says(&html, &["500 mL water first", "then 100 mL Foaming soap", "I mixed 600 mL at 5:1"]);
    let before = left(&shop, "wash").await;
    let mix = [("act", "mix"), ("quantity", "600"), ("measure", "mL"), ("water", "5")];
    let html = helper.does("/shelf/wash", &mix).await;
    says(&html, &["Mix 5:1</b> · 600 mL", "14 days"]);
    assert_eq!(left(&shop, "wash").await, before);
    let html = helper.sees("/shelf/wash?act=mix&bottle=nothing&measure=mL&water=5").await;
    says(&html, &["Fill in what the bottle holds"]);
}

#[tokio::test]
async fn a_helper_receives_and_sees_no_cost() {
    let shop = TestShop::open().await;
    let (helper, owner) = (shop.signed_in(Role::Helper).await, shop.signed_in(Role::Owner).await);
    says(&owner.sees("/shelf/iron-remover").await, &["Cost of one container, CAD", "19.50"]);
    let receive = [
        ("act", "receive"),
        ("containers", "2"),
        ("lot", "IR90"),
        ("best_before", "2027-06-30"),
        ("supplier", "north-dock"),
        ("unit_cost", "1.00"),
    ];
    let html = helper.does("/shelf/iron-remover", &receive).await;
    says(&html, &["× 2", "IR90", "+1 L", "Good until 30 Jun 2027."]);
    let pages = ["/shelf", "/shelf/iron-remover", "/containers/R-2/1", "/labels", "/count"];
    for path in pages {
        let html = helper.sees(path).await;
        for cost in ["19.50", "unit_cost", "CAD"] {
            assert!(!html.contains(cost), "{path} shows {cost}");
        }
    }
    // What a helper says of costs is not taken: it costs what it cost the last time.
    let reader = shop.reader().await;
    let rows = reader.see("/api/v1/containers?product=iron-remover").await;
    let new = rows["items"].as_array().unwrap().iter().find(|row| row["lot"] == "IR90").unwrap();
    assert_eq!(new["unit_cost"], "19.50");
    let dearer = [("act", "receive"), ("containers", "1"), ("lot", "X"), ("unit_cost", "21")];
    owner.does("/shelf/iron-remover", &dearer).await;
    let rows = reader.see("/api/v1/containers?product=iron-remover").await;
    let new = rows["items"].as_array().unwrap().iter().find(|row| row["lot"] == "X").unwrap();
    assert_eq!(new["unit_cost"], "21.00");
}

#[tokio::test]
async fn stock_taking_goes_from_product_to_product() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let first = helper.sees("/count").await;
    says(&first, &["1 of 3", "Foaming soap"]);
    // A skipped one comes back.
    let second = helper.sees("/count?skip=1").await;
    says(&second, &["2 of 3", "Iron remover"]);
    let count = [("product", "iron-remover"), ("skip", "1"), ("quantity", "700"), ("sealed", "0")];
    let count = [&count[..], &[("measure", "mL")]].concat();
    says(&helper.does("/count", &count).await, &["3 of 3", "Silica coating", "The count of"]);
    assert_eq!(left(&shop, "iron-remover").await, 700_000);
    let end = helper.sees("/count?skip=2").await;
    says(&end, &["1 of 3 products are counted today", "Go through the skipped ones"]);
    says(&helper.sees("/count").await, &["2 of 3", "Foaming soap"]);
    let wrong = [("product", "wash"), ("quantity", "some"), ("measure", "mL")];
    let shown = helper.sends("/count", &wrong).await;
    assert_eq!(shown.status, StatusCode::UNPROCESSABLE_ENTITY);
    says(&shown.html, &["Foaming soap", "value=\"some\"", "<b>Amount</b>"]);
}

#[tokio::test]
async fn labels_carry_a_code_of_the_whole_address() {
    let shop = TestShop::open().await;
    let helper = shop.signed_in(Role::Helper).await;
    let owner = shop.owner().await;
    let body = serde_json::json!({
        "id": "R-5", "product": "coating", "containers": 1, "unit_cost": "61.00", "lot": "B3000"
    });
    owner.post("/receipts", &body).await;
    let html = helper.sees("/labels").await;
    says(&html, &["value=\"R-5/1\" checked", "value=\"R-1/1\">"]);
    assert!(!html.contains("<article"));
    let html = helper.sees("/labels?c=R-4/1&c=R-1/1").await;
    let address = format!("Code that opens {}/containers/R-4/1", shop.base);
    says(&html, &["Lot B2290 · R-4/1", "Use by 31 Mar 2027", "Opened on", &address]);
    assert_eq!(html.matches("<article").count(), 2);
}

#[tokio::test]
async fn three_hundred_products_stay_small() {
    let mut facts = two_gulls();
    let receipt = facts.receipts[1].clone();
    for number in 0..300 {
        let id = Id::parse(&format!("product-{number}")).unwrap();
        let size = Amount { number: 1000.into(), unit: Unit::Ml };
        facts.products.push(Product {
            hazards: vec!["GHS07".to_owned()],
            ..Product::new(id.clone(), &format!("A product with quite a long name, {number}"), size)
        });
        let own = Id::parse(&format!("RR-{number}")).unwrap();
        let lot = Some(format!("LOT{number}"));
        facts.receipts.push(capful_domain::facts::Receipt {
            id: own,
            product: id,
            containers: 4,
            lot,
            order: None,
            ..receipt.clone()
        });
    }
    let shop = TestShop::open_with(facts, Settings::default()).await;
    let helper = shop.signed_in(Role::Helper).await;
    let mut seen = 0;
    for number in 1..=8 {
        let html = helper.sees(&format!("/shelf?page={number}")).await;
        assert!(html.len() < 100_000, "page {number}: {} bytes", html.len());
        seen += html.matches("class=\"card bay\"").count();
        assert!(!html.contains("page=9"), "there is no ninth page");
    }
    assert_eq!(seen, 303);
    for path in ["/labels", "/count", "/shelf/product-7", "/shelf?page=99999999999999999999"] {
        let html = helper.sees(path).await;
        assert!(html.len() < 100_000, "{path}: {} bytes", html.len());
    }
    let all: String = (0..27).map(|number| format!("c=RR-{number}/1&")).collect();
    let html = helper.sees(&format!("/labels?{all}")).await;
    assert_eq!(html.matches("<article").count(), 27);
    assert!(html.len() < 100_000, "27 labels: {} bytes", html.len());
}

#[tokio::test]
async fn nobody_looks_who_is_not_signed_in() {
    let shop = TestShop::open().await;
    for path in ["/shelf", "/shelf/wash", "/containers/R-1/1", "/labels", "/count"] {
        let answer = shop.stranger().get(path).await;
        assert_eq!(answer.status(), StatusCode::UNAUTHORIZED, "{path}");
    }
}
