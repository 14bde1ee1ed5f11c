//! What can be looked at, told as what somebody wants to know.

#![allow(clippy::unwrap_used)]

mod common;

use common::TestShop;
use serde_json::{Value, json};

fn texts<'v>(list: &'v Value, key: &str) -> Vec<&'v str> {
    list.as_array().unwrap().iter().map(|item| item[key].as_str().unwrap()).collect()
}

#[tokio::test]
async fn which_vehicles_did_this_lot_go_on() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let trace = reader.see("/api/v1/trace/lots/B2231").await;
    let lot = &trace["items"][0];
    assert_eq!(lot["product"], "coating");
    assert_eq!(lot["containers"], json!(["R-3/1", "R-3/2"]));
    assert_eq!(texts(&lot["uses"], "vehicle"), ["GULL 202", "GULL 303"]);
    assert_eq!(lot["uses"][0]["quantity"], json!({"amount": 24.0, "unit": "mL"}));
    // And back.
    let job = reader.see("/api/v1/trace/jobs/J-2").await;
    assert_eq!(job["vehicle"], "GULL 202");
    assert_eq!(texts(&job["items"], "lot"), ["R-1", "IR77", "B2231"]);
    // Before that day nobody had it on a vehicle.
    let before = reader.see("/api/v1/trace/lots/B2231?as_of=2026-02-09").await;
    assert_eq!(before["items"][0]["uses"], json!([]));
}

#[tokio::test]
async fn what_did_this_job_cost() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let cost = reader.see("/api/v1/costs/jobs/J-2").await;
    // 90 mL of 3785 at 38.00, 110 of 1000 at 19.50, 24 of 50 at 61.00.
    let costs = texts(&cost["lines"], "cost");
    assert_eq!(costs, ["0.90", "2.15", "29.28"]);
    assert_eq!((&cost["total"], &cost["price"]), (&json!("32.33"), &json!("600.00")));
    let types = reader.see("/api/v1/costs/job-types").await;
    assert_eq!(texts(&types["items"], "job_type"), ["maintenance", "ceramic"]);
    assert_eq!(types["items"][1]["jobs"], 2);
}

#[tokio::test]
async fn what_was_thrown_away() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let waste = reader.see("/api/v1/costs/waste").await;
    assert_eq!(texts(&waste["months"], "month"), ["2026-02"]);
    assert_eq!(waste["months"][0]["products"][0]["product"], "coating");
    assert_eq!(waste["months"][0]["products"][0]["quantity"]["amount"], 6.0);
    // 6 of 50 mL at 61.00.
    assert_eq!((&waste["total"], &waste["months"][0]["total"]), (&json!("7.32"), &json!("7.32")));
    let before = reader.see("/api/v1/costs/waste?as_of=2026-02-17").await;
    assert_eq!((&before["months"], &before["total"]), (&json!([]), &json!("0.00")));
}

#[tokio::test]
async fn what_stands_on_the_shelf() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let live = reader.see("/api/v1/containers?product=coating").await;
    assert_eq!(texts(&live["items"], "id"), ["R-3/2", "R-4/1"]);
    assert_eq!(live["items"][0]["value"], "61.00");
    let all = reader.see("/api/v1/containers?product=coating&live=no").await;
    assert_eq!(texts(&all["items"], "id"), ["R-3/1", "R-3/2", "R-4/1"]);
    assert_eq!(all["items"][0]["state"], "discarded");
    let then = reader.see("/api/v1/containers?product=coating&as_of=2026-02-10").await;
    assert_eq!(texts(&then["items"], "state"), ["open", "sealed"]);
    assert_eq!(then["items"][0]["use_by"], "2026-02-16");

    let product = reader.see("/api/v1/products/coating").await;
    assert_eq!(texts(&product["containers"], "id"), ["R-3/2", "R-4/1"]);
    assert_eq!(texts(&product["lots"], "lot"), ["B2231", "B2290"]);
    assert_eq!(product["outlook"]["product"], "coating");
    let wash = reader.see("/api/v1/products/wash").await;
    assert_eq!(wash["ratios"], json!([{"label": "bucket", "water": 9.0}]));
}

#[tokio::test]
async fn how_a_job_stood() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let now = reader.see("/api/v1/jobs/J-2").await;
    assert_eq!((&now["status"], &now["vehicle"]), (&json!("done"), &json!("GULL 202")));
    let kinds = ["poured", "opened", "poured", "opened", "poured"];
    assert_eq!(texts(&now["movements"], "kind"), kinds);
    let then = reader.see("/api/v1/jobs/J-2?as_of=2026-02-09T10:30").await;
    assert_eq!((&then["status"], &then["finished_at"]), (&json!("started"), &Value::Null));
    assert_eq!(texts(&then["movements"], "product"), ["wash"]);

    let ids = |path: &'static str| {
        let reader = reader.clone();
        async move {
            let jobs = reader.see(path).await;
            texts(&jobs["items"], "id").join(" ")
        }
    };
    assert_eq!(ids("/api/v1/jobs").await, "J-1 J-2 J-3 J-4 J-5");
    assert_eq!(ids("/api/v1/jobs?status=booked").await, "J-4 J-5");
    assert_eq!(ids("/api/v1/jobs?from=2026-02-09&to=2026-03-04").await, "J-2 J-3");
    assert_eq!(ids("/api/v1/jobs?as_of=2026-02-05").await, "J-1 J-2 J-3");
    assert_eq!(ids("/api/v1/jobs?as_of=2026-02-05&status=booked").await, "J-2 J-3");
}

#[tokio::test]
async fn what_is_still_to_come() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let lines = |orders: &Value| {
        let lines = orders["items"][0]["lines"].as_array().unwrap().clone();
        lines.iter().map(|line| line["outstanding"].as_u64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(lines(&reader.see("/api/v1/orders").await), [1, 1]);
    assert_eq!(lines(&reader.see("/api/v1/orders?as_of=2026-02-19").await), [2, 1]);
    assert_eq!(reader.see("/api/v1/orders?as_of=2026-02-15").await["items"], json!([]));
    assert_eq!(reader.see("/api/v1/orders?status=received").await["items"], json!([]));
}

#[tokio::test]
async fn what_the_shop_is_buys_and_sells() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let answer = reader.get("/api/v1/shop").await;
    assert_eq!(answer.headers()["etag"], "\"1\"");
    let settings: Value = answer.json().await.unwrap();
    assert_eq!(settings["timezone"], "America/Halifax");
    assert_eq!((&settings["conditions"]["5"], &settings["budget"]), (&json!(1.6), &Value::Null));
    let suppliers = reader.see("/api/v1/suppliers").await;
    assert_eq!(suppliers["items"][0]["free_freight_over"], "150.00");
    let offers = reader.see("/api/v1/offers").await;
    assert_eq!(texts(&offers["items"], "code"), ["ND-1", "ND-2", "ND-3"]);
    let types = reader.see("/api/v1/job-types").await;
    assert_eq!(texts(&types["items"], "id"), ["maintenance", "ceramic"]);
    assert_eq!(texts(&types["items"][1]["usage_sheet"], "product")[2], "coating");
    assert_eq!(types["items"][0]["usage_sheet"][0]["water"], 9.0);
}

#[tokio::test]
async fn a_long_list_comes_in_pages() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    for list in ["jobs", "products", "offers", "movements", "containers", "orders"] {
        let key = if list == "offers" { "code" } else { "id" };
        let whole = reader.see(&format!("/api/v1/{list}")).await;
        assert_eq!(whole["next"], Value::Null, "{list}");
        let (mut seen, mut after) = (Vec::new(), String::new());
        loop {
            let path = format!("/api/v1/{list}?limit=2&after={}", after.replace('/', "%2F"));
            let page = reader.see(&path).await;
            let items = page["items"].as_array().unwrap();
            assert!(items.len() <= 2, "{page}");
            seen.extend(items.iter().map(|item| item[key].as_str().unwrap().to_owned()));
            match page["next"].as_str() {
                Some(next) => next.clone_into(&mut after),
                None => break,
            }
        }
        assert_eq!(seen, texts(&whole["items"], key), "{list}");
    }
}

#[tokio::test]
async fn the_books_add_up() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    for path in ["/api/v1/check", "/api/v1/check?as_of=2026-02-10"] {
        let check = reader.see(path).await;
        assert_eq!(check["is_well"], true, "{check}");
        assert_eq!(check["differences"], json!([]), "{check}");
        assert!(check["movements"].as_u64().unwrap() > 3, "{check}");
    }
}

#[tokio::test]
async fn the_folder_comes_out_as_it_went_in() {
    let shop = TestShop::open().await;
    let answer = shop.reader().await.see("/api/v1/folder").await;
    let files = answer["files"].as_object().unwrap().iter();
    let bytes = |(name, text): (&String, &Value)| {
        (name.clone(), text.as_str().unwrap().as_bytes().to_vec())
    };
    let read = capful_folder::read_files(&files.map(bytes).collect()).unwrap();
    assert!(read.facts == shop.facts);
}

#[tokio::test]
async fn a_page_goes_on_behind_a_container_that_was_emptied_since() {
    let shop = TestShop::open().await;
    let helper = shop.helper().await;
    let first = helper.see("/api/v1/containers?limit=2").await;
    let (all, next) = (helper.see("/api/v1/containers").await, first["next"].as_str().unwrap());
    let last = &first["items"][1];
    assert_eq!(last["id"], next);
    let empty = json!({"product": last["product"], "container": next, "quantity": 0});
    helper.post("/counts", &empty).await;
    let rest = helper.see(&format!("/api/v1/containers?after={next}")).await;
    assert_eq!(texts(&rest["items"], "id"), texts(&all["items"], "id")[2..]);
}

#[tokio::test]
async fn an_order_stands_as_it_stood() {
    let shop = TestShop::open().await;
    let owner = shop.owner().await;
    // The first of it came on 20 February; today the owner says that it is over.
    owner.post("/orders/O-1/end", &Value::Null).await;
    let ids = async |query: &str| {
        let orders = owner.see(&format!("/api/v1/orders?{query}")).await;
        orders["items"].as_array().unwrap().len()
    };
    assert_eq!((ids("status=received").await, ids("status=placed").await), (1, 0));
    assert_eq!(ids("as_of=2026-02-18&status=received").await, 0);
    assert_eq!(ids("as_of=2026-02-18&status=placed").await, 1);
    assert_eq!(ids("as_of=2026-02-21&status=received").await, 1);
    let before = owner.see("/api/v1/orders?as_of=2026-02-18").await;
    assert_eq!(texts(&before["items"], "status"), ["placed"]);
}

#[tokio::test]
async fn what_the_work_costs_on_one_page() {
    let shop = TestShop::open().await;
    let reader = shop.reader().await;
    let costs = reader.see("/api/v1/costs?as_of=2026-02-28").await;
    let types = reader.see("/api/v1/costs/job-types?as_of=2026-02-28").await;
    assert_eq!(costs["job_types"], types["items"]);
    assert_eq!(costs["waste"]["month"], "2026-02");
    assert_eq!((&costs["waste"]["total"], &costs["currency"]), (&json!("7.32"), &json!("CAD")));
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let sum: i64 = types["items"].as_array().unwrap().iter().map(|t| cents(&t["total"])).sum();
    assert_eq!(cents(&costs["total"]), sum);
    // Nothing was thrown away in March.
    let march = reader.see("/api/v1/costs").await;
    assert_eq!(
        (&march["waste"]["month"], &march["waste"]["total"]),
        (&json!("2026-03"), &json!("0.00"))
    );
}
