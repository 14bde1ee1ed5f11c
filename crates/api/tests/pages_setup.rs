//! The owner sets the shop up in the pages; a helper does not.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Facts, JobType, Product, SheetRow, Supplier};
use capful_store::Role;
use common::{TestShop, two_gulls};
use reqwest::StatusCode;

const OWNERS: [&str; 12] = [
    "/setup",
    "/setup/start",
    "/setup/shop",
    "/setup/suppliers",
    "/setup/suppliers/new",
    "/setup/products",
    "/setup/products/new",
    "/setup/job-types",
    "/setup/job-types/new",
    "/setup/folder",
    "/people",
    "/people/tokens",
];

async fn empty() -> TestShop {
    TestShop::open_with(Facts::new(two_gulls().shop), capful_api::Settings::default()).await
}

/// What a form holds under a hidden name.
fn held(html: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    html.split(&mark).nth(1).unwrap().split('"').next().unwrap().to_owned()
}

#[tokio::test]
async fn setup_is_the_owners() {
    let shop = TestShop::open().await;
    let (owner, helper) = (shop.signed_in(Role::Owner).await, shop.signed_in(Role::Helper).await);
    for path in OWNERS {
        owner.sees(path).await;
        assert_eq!(helper.get(path).await.status, StatusCode::FORBIDDEN, "{path}");
    }
    for path in ["/more", "/people/me", "/deeds"] {
        owner.sees(path).await;
        helper.sees(path).await;
    }
    assert!(!helper.sees("/more").await.contains("/costs"));
    let body = [("name", "Their shop"), ("version", "1")];
    let refused = helper.sends("/setup/shop", &body).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn an_empty_shop_starts_with_a_set() {
    let shop = empty().await;
    let owner = shop.signed_in(Role::Owner).await;
    for path in ["/setup", "/setup/products", "/setup/job-types"] {
        assert!(owner.sees(path).await.contains("/setup/start"), "{path}");
    }
    let nothing = owner.sends("/setup/start", &[]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    let chosen = [("job_type", "wash"), ("product", "wash-shampoo"), ("product", "snow-foam")];
    let led = owner.sends_as("once", "/setup/start", &chosen).await;
    assert_eq!(led.status, StatusCode::SEE_OTHER, "{}", led.html);
    assert_eq!(owner.sends_as("once", "/setup/start", &chosen).await.to, led.to);
    let sheet = shop.store.page::<SheetRow>(shop.shop, None, 99).await.unwrap();
    assert_eq!(sheet.len(), 2);
    let deeds = shop.store.deeds(shop.shop, None, 9).await.unwrap();
    assert_eq!(deeds.len(), 3, "the shop, its owner, and one change");
    assert!(owner.sees("/setup/start").await.contains("is there already"));
}

#[tokio::test]
async fn a_product_is_added_changed_and_kept_where_two_change_it() {
    let shop = empty().await;
    let owner = shop.signed_in(Role::Owner).await;
    let first = [
        ("name", "Iron remover"),
        ("container_size", "5,5"),
        ("unit", "L"),
        ("form", "ready"),
        ("pictograms", "GHS07"),
        ("statements", "H317 H319"),
        ("protection", "gloves"),
    ];
    let list = owner.does("/setup/products/new", &first).await;
    assert!(list.contains("/setup/products/iron-remover"), "{list}");
    let get = || shop.store.get::<Product>(shop.shop, "iron-remover");
    let added = get().await.unwrap().row;
    assert_eq!(added.hazards, ["GHS07", "H317", "H319"]);
    assert_eq!(added.container_size.number.to_string(), "5.5");

    let one = owner.sees("/setup/products/iron-remover").await;
    let version = held(&one, "version");
    let edit = |name| [("name", name), ("container_size", "5"), ("unit", "L"), ("form", "ready")];
    let with = |name| [&edit(name)[..], &[("version", version.as_str())]].concat();
    owner.does("/setup/products/iron-remover", &with("Iron remover, 5 L")).await;
    let clash = owner.sends("/setup/products/iron-remover", &with("Fallout remover")).await;
    assert_eq!(clash.status, StatusCode::PRECONDITION_FAILED);
    for both in ["Fallout remover", "Saved now: Iron remover, 5 L"] {
        assert!(clash.html.contains(both), "{both}: {}", clash.html);
    }
    assert_eq!(get().await.unwrap().row.name, "Iron remover, 5 L");

    let wrong = owner.sends("/setup/products/new", &[("name", "Soap"), ("gtin", "12")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.html.contains("value=\"Soap\""), "{}", wrong.html);
    let ratio = [("label", "wheels"), ("water", "5"), ("version", "0")];
    let page = owner.does("/setup/products/iron-remover/ratios", &ratio).await;
    assert!(page.contains("wheels"), "{page}");
}

#[tokio::test]
async fn a_supplier_and_its_offers_are_set_up() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let new = [("name", "East Quay"), ("lead_days", "2"), ("order_weekdays", "mon")];
    let page = owner.does("/setup/suppliers/new", &new).await;
    assert!(page.contains("East Quay"), "{page}");
    let row = shop.store.get::<Supplier>(shop.shop, "east-quay").await.unwrap().row;
    assert_eq!(row.order_weekdays.len(), 1);
    let offer = [("product", "wash"), ("pack", "2"), ("price", "46.00"), ("version", "0")];
    let page = owner.does("/setup/suppliers/east-quay/offers", &offer).await;
    assert!(page.contains("46.00"), "{page}");
    let twice = owner.sends("/setup/suppliers/east-quay/offers", &offer).await;
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_job_type_takes_what_its_sheet_says() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let row = |product, quantity| {
        [
            ("product", product),
            ("quantity", quantity),
            ("unit", ""),
            ("water", ""),
            ("share_of_jobs", ""),
            ("log_sd", ""),
        ]
    };
    let new = [("name", "Quick rinse"), ("price", "30")];
    let wrong = [&new[..], &row("wash", "much")].concat();
    let wrong = owner.sends("/setup/job-types/new", &wrong).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.html.contains("quantity: found"), "{}", wrong.html);
    let right = [&new[..], &row("wash", "15"), &row("", "")].concat();
    owner.does("/setup/job-types/new", &right).await;
    let page = owner.sees("/setup/job-types/quick-rinse").await;
    assert_eq!(held(&page, "version"), "1");
    let none = [("name", "Quick rinse"), ("version", "1")];
    owner.does("/setup/job-types/quick-rinse", &none).await;
    let sheet = shop.store.page::<SheetRow>(shop.shop, None, 99).await.unwrap();
    assert!(sheet.iter().all(|listed| listed.row.job_type.as_str() != "quick-rinse"));
    let saved = shop.store.get::<JobType>(shop.shop, "quick-rinse").await.unwrap();
    assert_eq!(saved.place.version, 2);
}

#[tokio::test]
async fn the_folder_is_taken_out_and_brought_in() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let packed = owner.downloads("/setup/folder/shop.zip").await;
    assert!(packed.starts_with(b"PK"));
    let other = empty().await;
    let theirs = other.signed_in(Role::Owner).await;
    let led = theirs.uploads("/setup/folder", "shop.zip", &packed).await;
    assert_eq!(led.status, StatusCode::SEE_OTHER, "{}", led.html);
    let facts = |shop: &TestShop| {
        let (store, id) = (shop.store.clone(), shop.shop);
        async move { store.facts(id, None).await.unwrap() }
    };
    assert_eq!(facts(&other).await.products, facts(&shop).await.products);

    let wrong = b"id,name,unit,container_size\nsoap,Soap,L,\"3,8\"\n";
    let told = owner.uploads("/setup/folder", "products.csv", wrong).await;
    assert_eq!(told.status, StatusCode::UNPROCESSABLE_ENTITY);
    for part in ["products.csv", "container_size", "expected a decimal number"] {
        assert!(told.html.contains(part), "{part}: {}", told.html);
    }
    let right = b"id,name,unit,container_size\nsoap,Soap,L,3.8\n";
    let led = owner.uploads("/setup/folder", "products.csv", right).await;
    assert_eq!(led.status, StatusCode::SEE_OTHER, "{}", led.html);
    assert!(shop.store.get::<Product>(shop.shop, "soap").await.is_ok());
}

#[tokio::test]
async fn people_come_and_go() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let bo = [("name", "Bo"), ("sign_in", "bo"), ("role", "helper")];
    let short = [&bo[..], &[("password", "short")]].concat();
    let short = owner.sends("/people", &short).await;
    assert_eq!(short.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(!short.html.contains("value=\"short\""), "{}", short.html);
    let right = [&bo[..], &[("password", "nine lives of a towel")]].concat();
    owner.does("/people", &right).await;
    let found = shop.store.signing_in("bo").await.unwrap().unwrap();
    let path = format!("/people/{}", found.person.id);
    owner.does(&path, &[("name", "Bo Finch"), ("role", "owner")]).await;
    owner.does(&format!("{path}/password"), &[("password", "ten lives of a sponge")]).await;
    let again = shop.store.signing_in("bo").await.unwrap().unwrap();
    assert_eq!((again.person.name.as_str(), again.person.role), ("Bo Finch", Role::Owner));
    assert_ne!(again.password_hash, found.password_hash);
    owner.does(&format!("{path}/end"), &[]).await;
    assert!(shop.store.signing_in("bo").await.unwrap().is_none());

    let wrong = [("old", "not this one"), ("password", "nine lives of a towel")];
    let wrong = owner.sends("/people/me", &wrong).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_token_is_shown_once_and_revoked() {
    let shop = TestShop::open().await;
    let owner = shop.signed_in(Role::Owner).await;
    let new = [("label", "till"), ("scope", "read"), ("days", "2")];
    let made = owner.sends("/people/tokens", &new).await;
    assert_eq!(made.status, StatusCode::OK);
    let text = made.html.split("value=\"capful_").nth(1).unwrap().split('"').next().unwrap();
    let text = format!("capful_{text}");
    assert!(!owner.sees("/people/tokens").await.contains(&text));
    let program = shop.person(Some(&text));
    assert_eq!(program.get("/api/v1/jobs").await.status(), StatusCode::OK);
    let token = shop.store.tokens(shop.shop).await.unwrap()[0].id;
    owner.does(&format!("/people/tokens/{token}/revoke"), &[]).await;
    assert_eq!(program.get("/api/v1/jobs").await.status(), StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn who_did_what_is_told_by_page_and_undone() {
    let shop = TestShop::open().await;
    let (owner, program) = (shop.signed_in(Role::Owner).await, shop.helper().await);
    for _ in 0..51 {
        let pour = serde_json::json!({"product": "wash", "quantity": 1, "unit": "mL"});
        program.post("/pours", &pour).await;
    }
    let page = owner.sees("/deeds").await;
    assert!(page.contains("token helper") && page.contains("/shelf/wash"), "{page}");
    let next = page.split("/deeds?before=").nth(1).unwrap().split('"').next().unwrap();
    let before = owner.sees(&format!("/deeds?before={next}")).await;
    assert!(before.contains("the program"), "{before}");
    let deed = shop.store.deeds(shop.shop, None, 1).await.unwrap()[0].id;
    let undone = owner.does(&format!("/undo/{deed}"), &[("then", "/deeds")]).await;
    assert!(undone.contains("(undone)"), "{undone}");
}
