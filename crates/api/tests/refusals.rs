//! Whatever is written down the wrong way is answered with what would be right, and changes
//! nothing.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Person, TestShop, problem};
use reqwest::Method;
use serde_json::{Value, json};

/// A wrong request: where it goes, what it says, and what the problem says of it.
struct Wrong {
    path: &'static str,
    body: Value,
    kind: &'static str,
    field: &'static str,
    right: &'static str,
}

const fn wrong(
    path: &'static str,
    body: Value,
    kind: &'static str,
    field: &'static str,
    right: &'static str,
) -> Wrong {
    Wrong { path, body, kind, field, right }
}

const BODY: &str = "bad-body";
const RULE: &str = "refused";

fn status(kind: &str) -> u16 {
    match kind {
        "conflict" => 409,
        "not-found" => 404,
        _ => 422,
    }
}

/// Everything that the shop has, told in full.
async fn everything(owner: &Person) -> [Value; 3] {
    let folder = owner.see("/api/v1/folder").await;
    let movements = owner.see("/api/v1/movements?limit=500").await;
    [folder, movements, owner.see("/api/v1/containers?live=no").await]
}

/// Each request is refused as it should be, and nothing is changed by any.
async fn refused(method: Method, version: Option<&str>, requests: Vec<Wrong>) {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    let before = everything(&owner).await;
    for Wrong { path, body, kind, field, right } in requests {
        let mut ask = owner.change(method.clone(), path).json(&body);
        if let Some(version) = version {
            ask = ask.header("If-Match", version);
        } else if method == Method::PUT {
            ask = ask.header("If-None-Match", "*");
        }
        let told = problem(ask.send().await.unwrap(), status(kind), kind).await;
        let all = told.to_string().replace("\\\"", "\"");
        assert!(all.contains(right), "{path} {body}: {told}");
        assert_eq!(told["field"].as_str().unwrap_or_default(), field, "{path} {body}: {told}");
        assert_eq!(everything(&owner).await, before, "{path} {body}");
    }
}

fn pour(field: &str, value: Value) -> Value {
    let mut body = json!({"product": "wash", "quantity": 100, "unit": "mL"});
    body[field] = value;
    body
}

/// What comes to nothing in the books is never taken for something.
#[tokio::test]
async fn amounts_that_come_to_nothing() {
    let least = "at least 0.001 mL";
    let mixed = json!({"product": "wash", "quantity": "0.01", "unit": "mL", "water": 400});
    let sheet = json!({"name": "Odd", "usage_sheet": [{"product": "wash", "quantity": "0.0001"}]});
    let size = json!({"name": "Odd", "unit": "mL", "container_size": "0.0001"});
    let (tiny, drop) = (pour("quantity", json!("0.0001")), pour("quantity", json!(0.0001)));
    let finish = json!({"pours": [tiny.clone()]});
    refused(
        Method::POST,
        None,
        vec![
            wrong("/pours", tiny.clone(), BODY, "quantity", least),
            wrong("/pours", drop, BODY, "quantity", least),
            wrong("/discards", tiny.clone(), BODY, "quantity", least),
            wrong("/counts", tiny, BODY, "quantity", least),
            wrong("/mixes", mixed, BODY, "quantity", "at least 0.401 mL"),
            wrong("/jobs/J-4/finish", finish, BODY, "pours[0].quantity", least),
        ],
    )
    .await;
    refused(
        Method::PUT,
        None,
        vec![
            wrong("/job-types/odd", sheet, BODY, "usage_sheet[0].quantity", least),
            wrong("/products/odd", size, BODY, "container_size", least),
        ],
    )
    .await;
}

#[tokio::test]
async fn wrong_pours() {
    let list = json!([pour("id", json!("P-70")), pour("quantity", json!("1,5"))]);
    let twice = json!([pour("id", json!("P-70")), pour("id", json!("P-70"))]);
    let path = "/pours";
    refused(
        Method::POST,
        None,
        vec![
            wrong(
                path,
                pour("product", json!("soup")),
                BODY,
                "product",
                "product that the shop has",
            ),
            wrong(path, pour("product", json!("so up")), BODY, "product", "letters, digits"),
            wrong(path, pour("quantity", json!("12,5")), BODY, "quantity", "such as 12.5"),
            wrong(path, pour("quantity", json!(-3)), BODY, "quantity", "not negative"),
            wrong(path, pour("quantity", json!(1e300)), BODY, "quantity", "at most 1000000000"),
            wrong(path, pour("quantity", json!(true)), BODY, "quantity", "a number such as 12.5"),
            wrong(
                path,
                pour("quantity", json!("99999999999999999")),
                BODY,
                "quantity",
                "at most 1000000000",
            ),
            wrong(path, pour("unit", json!("each")), BODY, "unit", "fits `wash`: mL, L"),
            wrong(path, pour("unit", json!("ml")), BODY, "unit", "a unit: mL, L"),
            wrong(path, pour("water", json!(10001)), BODY, "water", "0 to 10000"),
            wrong(path, pour("at", json!("yesterday")), BODY, "at", "a time such as"),
            wrong(path, pour("at", json!("2026-03-03")), BODY, "at", "it is 2026-03-02T08:00 now"),
            wrong(path, pour("job", json!("J-99")), BODY, "job", "job that the shop has"),
            wrong(path, pour("container", json!("R-1/9")), BODY, "container", "/api/v1/containers"),
            wrong(path, pour("container", json!("R-3/2")), BODY, "container", "/api/v1/containers"),
            wrong(path, pour("container", json!("R-1/0")), BODY, "container", "R-0412/1"),
            wrong(
                path,
                pour("method", json!("guessed")),
                BODY,
                "method",
                "measured, weighed, expected",
            ),
            wrong(path, pour("id", json!("P-1")), "conflict", "", "an id of its own"),
            wrong(path, pour("colour", json!("red")), BODY, "colour", "unknown field"),
            wrong(path, json!({"product": "wash"}), BODY, "", "quantity"),
            wrong(path, json!("wash"), BODY, "", "one row as an object"),
            wrong(path, json!([]), BODY, "", "at least one row"),
            wrong(path, list, BODY, "[1].quantity", "such as 12.5"),
            wrong(path, twice, "conflict", "", "an id of its own"),
            wrong(path, json!({"product": "soup!", "quantity": "x"}), BODY, "product", "2 fields"),
        ],
    )
    .await;
}

/// A row with one field otherwise.
fn with(mut row: Value, field: &str, value: Value) -> Value {
    row[field] = value;
    row
}

#[tokio::test]
async fn wrong_openings_mixes_and_discards() {
    let open = |container: &str| json!({"product": "coating", "container": container});
    let mix = |ml: Value, water: Value| json!({"product": "wash", "quantity": ml, "water": water});
    let throw = |field: &str, text: &str| with(json!({"product": "wash"}), field, json!(text));
    let rows = vec![
        wrong("/openings", open("R-9/1"), BODY, "container", "/api/v1/containers"),
        wrong("/openings", json!({}), BODY, "", "product"),
        wrong("/mixes", mix(json!(0), json!(10)), BODY, "quantity", "more than nothing"),
        wrong("/mixes", mix(json!(500), json!("ten")), BODY, "water", "parts of water"),
        wrong("/mixes", mix(json!(500), Value::Null), BODY, "water", "such as 12.5"),
        wrong("/discards", throw("unit", "mL"), BODY, "unit", "no quantity is given"),
        wrong("/discards", throw("reason", "old"), BODY, "reason", "expired, spilled"),
    ];
    refused(Method::POST, None, rows).await;
}

#[tokio::test]
async fn wrong_counts() {
    let count = |field: &str, value: Value| {
        with(json!({"product": "iron-remover", "quantity": 100}), field, value)
    };
    let path = "/counts";
    let rows = vec![
        wrong(path, json!({"product": "wash"}), BODY, "quantity", "`gross_g` or `sealed`"),
        wrong(path, count("gross_g", json!(500)), BODY, "gross_g", "nothing, as a quantity"),
        wrong(path, count("sealed", json!(-1)), BODY, "sealed", "whole number from 0"),
        wrong(path, count("sd_share", json!(3)), BODY, "sd_share", "a share from 0 to 1"),
    ];
    refused(Method::POST, None, rows).await;
}

#[tokio::test]
async fn wrong_receipts() {
    let receipt = |field: &str, value: Value| {
        with(json!({"product": "wash", "containers": 1, "unit_cost": "38.00"}), field, value)
    };
    let path = "/receipts";
    let cost = receipt("unit_cost", json!("38.005"));
    let day = receipt("best_before", json!("2027-02-30"));
    let late = with(receipt("order", json!("O-1")), "at", json!("2026-02-01"));
    let other = with(receipt("supplier", json!("nobody")), "order", json!("O-1"));
    let rows = vec![
        wrong(path, receipt("containers", json!(0)), BODY, "containers", "from 1 to"),
        wrong(path, receipt("containers", json!(1.5)), BODY, "containers", "whole number"),
        wrong(path, cost, BODY, "unit_cost", "no finer than CAD"),
        wrong(path, day, BODY, "best_before", "a day such as"),
        wrong(path, receipt("order", json!("O-77")), BODY, "order", "order that the shop has"),
        wrong(path, late, RULE, "at", "not before it was ordered"),
        wrong(path, other, BODY, "supplier", "supplier that"),
        wrong(path, receipt("container_size", json!(0)), BODY, "container_size", "above 0"),
    ];
    refused(Method::POST, None, rows).await;
}

#[tokio::test]
async fn wrong_orders_and_reversals() {
    let order = |supplier: &str, lines: Value| json!({"supplier": supplier, "lines": lines});
    let packs = |packs: u32| json!([{"product": "wash", "packs": packs}]);
    let path = "/orders";
    let (none, slip) = (json!({}), json!({"why": "slip"}));
    let rows = vec![
        wrong(path, order("north-dock", json!([])), BODY, "lines", "at least one"),
        wrong(path, order("south", packs(1)), BODY, "supplier", "supplier that"),
        wrong(path, order("north-dock", packs(0)), BODY, "lines[0].packs", "from 1 to"),
        wrong("/orders/O-9/cancel", none.clone(), "not-found", "", "no order `O-9`"),
        wrong("/movements/7/reverse", none, "not-found", "", "/api/v1/movements"),
        wrong("/movements/7/reverse", slip, BODY, "why", "unknown field"),
    ];
    refused(Method::POST, None, rows).await;
}

#[tokio::test]
async fn wrong_jobs() {
    let job = |field: &str, value: Value| {
        let mut body = json!({"planned_on": "2026-03-09", "job_types": ["ceramic"],
            "size": "medium", "condition": 3});
        body[field] = value;
        body
    };
    let path = "/jobs";
    let measured = json!({"pours": [{"product": "wash", "quantity": "x"}]});
    let guessed = json!({"pours": [{"product": "wash", "quantity": 1, "method": "expected"}]});
    refused(
        Method::POST,
        None,
        vec![
            wrong(path, job("job_types", json!([])), BODY, "job_types", "at least one job type"),
            wrong(
                path,
                job("job_types", json!(["polish"])),
                BODY,
                "job_types",
                "job type that the shop has",
            ),
            wrong(path, job("job_types", json!("ceramic")), BODY, "job_types", "a sequence"),
            wrong(path, job("size", json!("huge")), BODY, "size", "small, medium, large, oversize"),
            wrong(path, job("condition", json!(6)), BODY, "condition", "from 1 to 5"),
            wrong(path, job("planned_on", json!("soon")), BODY, "planned_on", "a day such as"),
            wrong(path, job("id", json!("J-4")), "conflict", "", "an id of its own"),
            wrong(path, job("price", json!("600.001")), BODY, "price", "no finer than CAD"),
            wrong(path, job("status", json!("done")), BODY, "status", "unknown field"),
            wrong("/jobs/J-99/start", json!({}), "not-found", "", "no job `J-99`"),
            wrong("/jobs/J-1/start", json!({}), RULE, "", "one that is booked can be started"),
            wrong(
                "/jobs/J-4/start",
                json!({"at": "2026-02-01"}),
                RULE,
                "at",
                "not before it was booked",
            ),
            wrong("/jobs/J-1/cancel", json!({}), RULE, "", "booked or started"),
            wrong("/jobs/J-1/finish", json!({}), RULE, "", "booked or started"),
            wrong("/jobs/J-4/finish", json!({"rest": "some"}), BODY, "rest", "expected, none"),
            wrong("/jobs/J-4/finish", measured, BODY, "pours[0].quantity", "such as 12.5"),
            wrong("/jobs/J-4/finish", guessed, BODY, "pours[0].method", "measured or weighed"),
            wrong(
                "/jobs/J-4/finish",
                json!({"finished_at": "2026-02-01"}),
                RULE,
                "at",
                "not before",
            ),
        ],
    )
    .await;
}

#[tokio::test]
async fn wrong_products() {
    let product = |field: &str, value: Value| {
        with(json!({"name": "Wax", "unit": "mL", "container_size": 500}), field, value)
    };
    let path = "/products/wax";
    let other = product("id", json!("polish"));
    let rows = vec![
        wrong(path, other, BODY, "id", "wax, as the address has it"),
        wrong(path, product("unit", json!("cup")), BODY, "unit", "a unit: mL"),
        wrong(path, product("container_size", json!(0)), BODY, "container_size", "above 0"),
        wrong(path, product("gtin", json!("416000336109")), BODY, "gtin", "digit is right"),
        wrong(path, product("form", json!("solid")), BODY, "form", "ready, concentrate"),
        wrong(path, product("substitutes", json!(["wax"])), BODY, "substitutes", "than itself"),
        wrong(path, product("substitutes", json!(["soup"])), BODY, "product", "the shop has"),
        wrong(path, product("open_days", json!(1.5)), BODY, "open_days", "a whole number"),
    ];
    refused(Method::PUT, None, rows).await;
}

#[tokio::test]
async fn wrong_suppliers_offers_and_job_types() {
    let supplier = |name: &str, days: Value| json!({"name": name, "lead_days": days});
    let (price, water) = (json!({"price": 1}), json!({"water": 4}));
    let sheet = |row: Value| json!({"name": "Gloss", "usage_sheet": [row]});
    let soup = sheet(json!({"product": "soup", "quantity": 1}));
    let feet = sheet(json!({"product": "wash", "quantity": 1, "unit": "ft"}));
    let back = json!({"name": "Gloss", "return_days": 9});
    let (south, gloss) = ("/suppliers/south", "/job-types/gloss");
    let (offer, no_offer) = ("/offers/south/wash/1", "/offers/north-dock/wash/none");
    let rows = vec![
        wrong(south, supplier("South", json!("x")), BODY, "lead_days", "such as 12.5"),
        wrong(south, supplier("", json!(2)), BODY, "name", "a text"),
        wrong(offer, price.clone(), BODY, "supplier", "supplier that"),
        wrong(no_offer, price, "not-found", "", "SUPPLIER/PRODUCT/PACK"),
        wrong("/products/soup/ratios/heavy", water, BODY, "product", "product that"),
        wrong(gloss, back, BODY, "return_share", "come back"),
        wrong(gloss, soup, BODY, "product", "product that"),
        wrong(gloss, feet, BODY, "usage_sheet[0].unit", "fits `wash`"),
    ];
    refused(Method::PUT, None, rows).await;
}

#[tokio::test]
async fn wrong_settings() {
    let shop = |field: &str, value: Value| {
        let settings = json!({"name": "Gulls", "timezone": "America/Halifax", "currency": "CAD"});
        with(settings, field, value)
    };
    let path = "/shop";
    let zone = shop("timezone", json!("Halifax"));
    let rows = vec![
        wrong(path, shop("currency", json!("EUR")), BODY, "currency", "CAD: prices are in it"),
        wrong(path, zone, BODY, "timezone", "America/Halifax"),
        wrong(path, shop("service", json!(1)), BODY, "service", "below 1"),
        wrong(path, shop("sizes", json!({"tiny": 1})), BODY, "sizes", "small, medium, large"),
        wrong(path, shop("budget", json!("1.234")), BODY, "budget", "no finer than CAD"),
    ];
    refused(Method::PUT, Some("\"1\""), rows).await;
}

#[tokio::test]
async fn versions_that_are_missing_or_old() {
    let shop = TestShop::open().await;
    let (owner, helper) = (shop.owner().await, shop.helper().await);
    let before = everything(&owner).await;
    let body = json!({"name": "Foaming soap", "unit": "mL", "container_size": 4000});
    let put = || owner.change(Method::PUT, "/products/wash").json(&body);
    problem(put().send().await.unwrap(), 428, "no-version").await;
    let told = problem(put().header("If-Match", "\"9\"").send().await.unwrap(), 412, "stale").await;
    assert!(told["detail"].as_str().unwrap().contains("at version 1 now"), "{told}");
    problem(put().header("If-None-Match", "*").send().await.unwrap(), 412, "stale").await;
    problem(put().header("If-Match", "one").send().await.unwrap(), 400, "bad-request").await;
    let patch = || helper.change(Method::PATCH, "/jobs/J-4").json(&json!({"size": "large"}));
    problem(patch().send().await.unwrap(), 428, "no-version").await;
    problem(patch().header("If-Match", "\"2\"").send().await.unwrap(), 412, "stale").await;
    let start = helper.change(Method::POST, "/jobs/J-4/start").header("If-Match", "\"2\"");
    problem(start.send().await.unwrap(), 412, "stale").await;
    assert_eq!(everything(&owner).await, before);
}

#[tokio::test]
async fn requests_without_a_key_a_scope_or_json() {
    let shop = TestShop::open().await;
    let (owner, helper, reader) = (shop.owner().await, shop.helper().await, shop.reader().await);
    let before = everything(&owner).await;
    let body = json!({"product": "wash", "quantity": 100});
    let bare = helper.ask(Method::POST, "/api/v1/pours").json(&body);
    problem(bare.send().await.unwrap(), 400, "no-key").await;
    let looking = reader.change(Method::POST, "/pours").json(&body);
    problem(looking.send().await.unwrap(), 403, "scope-too-narrow").await;
    let product = json!({"name": "Wax", "unit": "mL", "container_size": 500});
    let put = helper.change(Method::PUT, "/products/wax").header("If-None-Match", "*");
    problem(put.json(&product).send().await.unwrap(), 403, "scope-too-narrow").await;
    let stranger = shop.stranger().change(Method::POST, "/pours").json(&body);
    problem(stranger.send().await.unwrap(), 401, "no-token").await;
    let text = helper.change(Method::POST, "/pours").body(body.to_string());
    problem(text.send().await.unwrap(), 415, "not-json").await;
    let torn = helper.change(Method::POST, "/pours").header("content-type", "application/json");
    problem(torn.body("{\"product\":").send().await.unwrap(), 400, "bad-json").await;
    assert_eq!(everything(&owner).await, before);
}
