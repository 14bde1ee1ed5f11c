//! A morning at Two Gulls, written down as it happens.

#![allow(clippy::unwrap_used)]

mod common;

use chrono::TimeDelta;
use common::{Person, TestShop, problem};
use reqwest::Method;
use serde_json::{Value, json};

/// A shop, the helper who writes down, and the owner who looks after each step.
struct Morning {
    shop: TestShop,
    helper: Person,
    owner: Person,
}

impl Morning {
    async fn begin() -> Self {
        let shop = TestShop::open().await;
        let (helper, owner) = (shop.helper().await, shop.owner().await);
        Self { shop, helper, owner }
    }

    /// Writes something down; afterwards the books add up and there is a plan.
    async fn write(&self, path: &str, body: Value) -> Value {
        let done = self.helper.post(path, &body).await;
        self.look(path).await;
        done
    }

    async fn look(&self, path: &str) {
        let check = self.owner.see("/api/v1/check").await;
        assert_eq!(check["is_well"], true, "{path}: {check}");
        self.owner.see("/api/v1/plan").await;
        self.shop.pass(TimeDelta::minutes(5));
    }

    async fn left(&self, product: &str) -> f64 {
        let path = format!("/api/v1/products/{product}");
        self.owner.see(&path).await["left"]["amount"].as_f64().unwrap()
    }
}

fn job(id: &str) -> Value {
    let (types, vehicle) = (["ceramic"], "GULL 505");
    json!({
        "id": id, "planned_on": "2026-03-02", "job_types": types, "size": "medium",
        "condition": 3, "vehicle": vehicle, "price": "600.00"
    })
}

/// What went of each product, as an answer's movements say.
fn poured(answer: &Value, product: &str) -> f64 {
    let movements = answer["movements"].as_array().unwrap().iter();
    let own = movements.filter(|m| m["product"] == product && m["kind"] == "poured");
    -own.map(|m| m["change"]["amount"].as_f64().unwrap()).sum::<f64>()
}

#[tokio::test]
async fn a_job_from_its_booking_to_its_end_as_expected() {
    let morning = Morning::begin().await;
    let booked = morning.write("/jobs", job("J-10")).await;
    assert_eq!((&booked["status"], &booked["version"]), (&json!("booked"), &json!(1)));
    let change = json!({"size": "large", "vehicle": null});
    let edit = morning.helper.edit(Method::PATCH, "/jobs/J-10", 1, &change);
    let changed = edit.await;
    assert_eq!((&changed["size"], &changed["vehicle"]), (&json!("large"), &Value::Null));
    assert_eq!(changed["price"], "600.00");
    let started = morning.write("/jobs/J-10/start", Value::Null).await;
    assert_eq!(started["status"], "started");
    let before = morning.left("coating").await;
    let done = morning.write("/jobs/J-10/finish", Value::Null).await;
    assert_eq!(done["job"]["status"], "done");
    // The sheet says 22 at medium size; pours have taught a little else.
    let coating = poured(&done, "coating");
    assert!((22.0..32.0).contains(&coating), "{done}");
    assert!(poured(&done, "wash") > 50.0 && poured(&done, "iron-remover") > 80.0, "{done}");
    let sum = morning.left("coating").await + coating;
    assert!((sum - before).abs() < 0.002, "{before} {sum}");
    assert_eq!(done["flags"], json!([]));
    let answer = morning.helper.change(Method::POST, "/jobs/J-10/finish").send().await.unwrap();
    let refused = problem(answer, 422, "refused").await;
    assert!(refused["detail"].as_str().unwrap().contains("booked or started"), "{refused}");
}

#[tokio::test]
async fn a_job_whose_pours_were_measured_and_the_same_request_again() {
    let morning = Morning::begin().await;
    morning.write("/jobs", job("J-11")).await;
    let early = json!({"product": "iron-remover", "quantity": "90", "job": "J-11"});
    morning.write("/pours", early).await;
    let body = json!({"pours": [
        {"product": "coating", "quantity": 25.5},
        {"product": "wash", "quantity": 900, "unit": "mL", "water": 9, "method": "weighed"},
    ]});
    let finish = |key: &'static str, body: &Value| {
        let post = morning.helper.ask(Method::POST, "/api/v1/jobs/J-11/finish");
        post.header("Idempotency-Key", key).json(body).send()
    };
    let first = finish("end-11", &body).await.unwrap();
    assert_eq!(first.headers()["etag"], "\"2\"");
    let first = first.text().await.unwrap();
    let done: Value = serde_json::from_str(&first).unwrap();
    assert_eq!((poured(&done, "coating"), poured(&done, "wash")), (25.5, 90.0));
    assert_eq!(poured(&done, "iron-remover"), 0.0, "it was poured before: {done}");
    morning.look("finish").await;
    let left = morning.left("coating").await;
    let again = finish("end-11", &body).await.unwrap();
    assert_eq!(again.headers()["idempotency-replayed"], "true");
    assert_eq!(again.text().await.unwrap(), first);
    assert_eq!(morning.left("coating").await, left);
    let other = json!({"pours": [{"product": "coating", "quantity": 26}]});
    problem(finish("end-11", &other).await.unwrap(), 422, "key-used").await;
    morning.look("the same key").await;
}

#[tokio::test]
async fn nothing_else_was_used() {
    let morning = Morning::begin().await;
    morning.write("/jobs", job("J-12")).await;
    let body = json!({"rest": "none", "pours": [{"product": "coating", "quantity": 25}]});
    let done = morning.write("/jobs/J-12/finish", body).await;
    assert_eq!(done["ids"].as_array().unwrap().len(), 4, "{done}");
    assert_eq!((poured(&done, "coating"), poured(&done, "wash")), (25.0, 0.0));
    // What was said to be nothing is not expected afterwards either.
    let files = morning.owner.see("/api/v1/folder").await;
    let pours = files["files"]["pours.csv"].as_str().unwrap();
    assert_eq!(pours.matches(",J-12,").count(), 3, "{pours}");
}

#[tokio::test]
async fn more_than_the_books_hold_is_taken_and_flagged_and_can_be_reversed() {
    let morning = Morning::begin().await;
    let before = morning.left("iron-remover").await;
    let body = json!({"product": "iron-remover", "quantity": "5", "unit": "L"});
    let done = morning.write("/pours", body).await;
    assert_eq!(poured(&done, "iron-remover"), 5000.0);
    assert_eq!(done["flags"][0]["code"], "count-it", "{done}");
    assert!(done["flags"][0]["text"].as_str().unwrap().contains("count it"), "{done}");
    assert_eq!(done["containers"][0]["left"]["amount"], 0.0);
    assert_eq!(morning.left("iron-remover").await, 0.0);
    let movement = done["movements"][0]["id"].as_str().unwrap();
    let path = format!("/movements/{movement}/reverse");
    let undone = morning.write(&path, Value::Null).await;
    assert_eq!(morning.left("iron-remover").await, before);
    assert!(undone["movements"].as_array().unwrap().iter().all(|m| m["kind"] == "reversed"));
    let again = morning.helper.change(Method::POST, &path).send().await.unwrap();
    let refused = problem(again, 422, "refused").await;
    assert!(refused["detail"].as_str().unwrap().contains("reversed before"), "{refused}");
    let undoing = undone["movements"][0]["id"].as_str().unwrap();
    let path = format!("/movements/{undoing}/reverse");
    let again = morning.helper.change(Method::POST, &path).json(&json!({})).send().await.unwrap();
    problem(again, 422, "refused").await;
}

#[tokio::test]
async fn counted_opened_mixed_and_thrown_away() {
    let morning = Morning::begin().await;
    let body = json!({"product": "iron-remover", "container": "R-2/1", "gross_g": "640.5"});
    morning.write("/counts", body).await;
    assert_eq!(morning.left("iron-remover").await, 640.5);
    let opened = json!({"product": "coating", "container": "R-4/1"});
    let opened = morning.write("/openings", opened).await;
    assert_eq!(opened["containers"][0]["state"], "open", "{opened}");
    assert_eq!(opened["containers"][0]["use_by"], "2026-03-09");
    let mix = json!({"id": "M-1", "product": "wash", "quantity": 2, "unit": "L", "water": 10});
    let mix = morning.write("/mixes", mix).await;
    let own = |c: &&Value| c["id"] == "M-1";
    let filled = mix["containers"].as_array().unwrap().iter().find(own).unwrap();
    assert_eq!(filled["left"]["amount"], 181.818, "one part of eleven: {mix}");
    assert_eq!(filled["water"], 10.0);
    let used = json!({"product": "wash", "quantity": 550, "container": "M-1"});
    assert_eq!(poured(&morning.write("/pours", used).await, "wash"), 50.0);
    let thrown = json!({"product": "coating", "container": "R-4/1", "reason": "expired"});
    let thrown = morning.write("/discards", thrown).await;
    assert_eq!(thrown["containers"][0]["state"], "discarded");
}

#[tokio::test]
async fn ordered_received_in_parts_and_traced_to_the_vehicle() {
    let morning = Morning::begin().await;
    let lines = json!([{"product": "iron-remover", "packs": 2, "supplier_code": "ND-2"}]);
    let order = json!({"id": "O-2", "supplier": "north-dock", "lines": lines});
    let order = morning.write("/orders", order).await;
    assert_eq!((&order["status"], &order["version"]), (&json!("placed"), &json!(1)));
    let outstanding = async || {
        let orders = morning.owner.see("/api/v1/orders").await;
        let own = |o: &&Value| o["id"] == "O-2";
        let order = orders["items"].as_array().unwrap().iter().find(own).unwrap().clone();
        order["lines"][0]["outstanding"].as_u64().unwrap()
    };
    assert_eq!(outstanding().await, 2);
    let half = json!({"id": "R-10", "product": "iron-remover", "containers": 1,
        "unit_cost": 19.5, "supplier": "north-dock", "order": "O-2", "lot": "IR99"});
    let half = morning.write("/receipts", half).await;
    assert_eq!(half["containers"][0]["id"], "R-10/1");
    assert_eq!(outstanding().await, 1);
    let rest = json!([
        {"id": "R-11", "product": "iron-remover", "containers": 1, "unit_cost": "19.50",
            "order": "O-2", "lot": "IR99", "best_before": "2027-06-30"},
        {"id": "R-12", "product": "coating", "containers": 2, "unit_cost": "61.00"},
    ]);
    let rest = morning.write("/receipts", rest).await;
    assert_eq!(rest["ids"], json!(["R-11", "R-12"]));
    assert_eq!(outstanding().await, 0);
    let ended = morning.write("/orders/O-2/end", Value::Null).await;
    assert_eq!(ended["status"], "received");
    let late = morning.helper.change(Method::POST, "/orders/O-2/cancel").send().await.unwrap();
    problem(late, 422, "refused").await;
    let cancelled = morning.write("/orders/O-1/cancel", json!({})).await;
    assert_eq!(cancelled["status"], "cancelled");
    morning.write("/jobs", job("J-13")).await;
    let pour = json!({"product": "iron-remover", "quantity": 100, "container": "R-10/1",
        "job": "J-13"});
    morning.write("/pours", pour).await;
    let trace = morning.owner.see("/api/v1/trace/lots/IR99").await;
    assert!(trace.to_string().contains("GULL 505"), "{trace}");
}

#[tokio::test]
async fn set_up_and_seen_at_once() {
    let morning = Morning::begin().await;
    let owner = &morning.owner;
    let wax = json!({"name": "Spray wax", "unit": "mL", "container_size": "946.5",
        "form": "ready", "gtin": "416000336108", "hazards": ["GHS02"], "substitutes": ["coating"]});
    let made = owner.put_new("/products/wax", &wax).await;
    assert_eq!(made, json!({"id": "wax", "version": 1}));
    let changed = json!({"id": "wax", "name": "Spray wax", "unit": "L", "container_size": 1});
    let changed = owner.edit(Method::PUT, "/products/wax", 1, &changed).await;
    assert_eq!(changed["version"], 2);
    let south = json!({"name": "South Quay", "lead_days": 2.5, "order_weekdays": ["mon", "thu"],
        "freight": "9.50"});
    owner.put_new("/suppliers/south-quay", &south).await;
    let offer = json!({"price": "22.00", "minimum_packs": 2, "preferred": true});
    owner.put_new("/offers/south-quay/wax/6", &offer).await;
    owner.put_new("/products/wax/ratios/drying%20aid", &json!({"water": 4})).await;
    let sheet = json!([{"product": "wax", "quantity": 40, "unit": "mL", "share_of_jobs": 1},
        {"product": "wash", "quantity": 600, "water": "9"}]);
    let gloss = json!({"name": "Gloss", "price": 120, "usage_sheet": sheet});
    owner.put_new("/job-types/gloss", &gloss).await;
    let job = json!({"id": "J-14", "planned_on": "2026-03-02", "job_types": ["gloss"],
        "size": "medium", "condition": "3"});
    morning.write("/jobs", job).await;
    let done = morning.write("/jobs/J-14/finish", Value::Null).await;
    // No bottle of it was ever there: it is poured all the same.
    let expected = poured(&done, "wax");
    assert!((0.03..0.06).contains(&expected), "{done}");
    assert_eq!(done["flags"][0]["product"], "wax", "{done}");
    let fewer = json!({"name": "Gloss", "usage_sheet": [{"product": "wash", "quantity": 600,
        "water": 9}]});
    owner.edit(Method::PUT, "/job-types/gloss", 1, &fewer).await;
    let types = owner.see("/api/v1/job-types").await;
    let gloss = types["items"].as_array().unwrap().iter().find(|t| t["id"] == "gloss").unwrap();
    assert_eq!(gloss["usage_sheet"].as_array().unwrap().len(), 1, "{gloss}");
    let settings = owner.see("/api/v1/shop").await;
    let shop = json!({"name": "Three Gulls", "timezone": "America/Halifax", "currency": "CAD",
        "closed": ["sun", "mon"], "sizes": {"small": 0.75}, "conditions": {"5": "1.8"}});
    let version = settings["version"].as_i64().unwrap();
    owner.edit(Method::PUT, "/shop", version, &shop).await;
    let settings = owner.see("/api/v1/shop").await;
    assert_eq!(
        (&settings["name"], &settings["sizes"]["small"]),
        (&json!("Three Gulls"), &json!(0.75))
    );
    morning.look("setting up").await;
}
