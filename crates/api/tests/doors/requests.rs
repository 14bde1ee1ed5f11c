//! What is sent to each address: a request that is right in the shop that it is made for.

use serde_json::{Value, json};

use super::table::Row;

/// What is sent.
pub enum Body {
    Nothing,
    Json(Value),
    Form(&'static [(&'static str, &'static str)]),
    /// A form with a file of this name and text.
    File(&'static str, &'static str),
}

/// A request.
pub struct Tried {
    pub body: Body,
    /// The version that it is a change of.
    pub version: Option<&'static str>,
}

const SOAP: &str = "id,name,unit,container_size\nsoap,Soap,L,3.8\n";

/// What is sent to an address.
pub fn request(row: &Row) -> Tried {
    let first = row.method == "PUT" || row.method == "PATCH";
    Tried { body: body(row), version: first.then_some("\"1\"") }
}

fn body(row: &Row) -> Body {
    match (row.method.as_str(), row.is_for_programs()) {
        ("GET", _) => Body::Nothing,
        (_, true) => of_program(&row.name()).map_or(Body::Nothing, Body::Json),
        (_, false) => of_page(&row.path),
    }
}

/// Nothing: the address says it all.
fn of_program(name: &str) -> Option<Value> {
    let coating = |field: &str, value: Value| json!({ "product": "coating", field: value });
    let row = name.replace("/api/v1", "");
    Some(match row.as_str() {
        "POST /counts" => coating("quantity", json!(80)),
        "POST /discards" => coating("quantity", json!(5)),
        "POST /mixes" => json!({ "product": "coating", "quantity": 40, "water": 4 }),
        "POST /openings" => json!({ "product": "coating" }),
        "POST /pours" => coating("quantity", json!(5)),
        "POST /receipts" => json!({ "product": "coating", "containers": 1, "unit_cost": "60.00" }),
        "POST /orders" => json!({
            "supplier": "north-dock", "lines": [{ "product": "coating", "packs": 1 }]
        }),
        "POST /jobs" => json!({
            "planned_on": "2026-03-09", "job_types": ["ceramic"], "size": "medium", "condition": 3
        }),
        "PATCH /jobs/{id}" => json!({ "size": "large" }),
        "POST /folder" => json!({ "files": {
            "shop.toml": "name = \"LEAKED Gulls\"\ntimezone = \"America/Halifax\"\n\
                          currency = \"CAD\"\nclosed = [\"sun\"]\n",
            "products.csv": SOAP
        } }),
        "PUT /job-types/{id}" => json!({ "name": "Ceramic" }),
        "PUT /offers/{supplier}/{product}/{pack}" => json!({ "price": "60.00" }),
        "PUT /products/{id}" => json!({ "name": "Coat", "unit": "mL", "container_size": 50 }),
        "PUT /products/{id}/ratios/{label}" => json!({ "water": 8 }),
        "PUT /shop" => json!({
            "name": "Three Gulls", "timezone": "America/Halifax", "currency": "CAD"
        }),
        "PUT /suppliers/{id}" => json!({ "name": "North Dock", "lead_days": 4 }),
        _ => return None,
    })
}

const NEW_JOB: &[(&str, &str)] = &[
    ("planned_on", "2026-03-05"),
    ("job_types", "ceramic"),
    ("size", "large"),
    ("condition", "4"),
    ("version", "1"),
    ("do", "book"),
];

fn of_page(path: &str) -> Body {
    Body::Form(match path {
        "/people/me" => &[("old", OLD_PASSWORD), ("password", "nine lives of a towel")],
        "/people" => &[
            ("name", "Bo"),
            ("sign_in", "bo"),
            ("role", "helper"),
            ("password", "nine lives of a towel"),
        ],
        "/people/{id}" => &[("name", "Bo Finch"), ("role", "helper")],
        "/people/{id}/password" => &[("password", "ten lives of a sponge")],
        "/people/tokens" => &[("label", "till"), ("scope", "read"), ("days", "2")],
        "/undo/{deed}" => &[("then", "/")],
        "/shelf/{product}" => &[("act", "open")],
        "/containers/{*id}" => &[("act", "pour"), ("quantity", "5"), ("measure", "mL")],
        "/count" => &[("product", "coating"), ("quantity", "80"), ("measure", "mL")],
        "/going-off" => &[("product", "coating"), ("container", "R-4/1"), ("reason", "expired")],
        "/order" => &[
            ("supplier", "north-dock"),
            ("product", "coating"),
            ("code", "ND-3"),
            ("packs", "1"),
            ("place", "north-dock"),
        ],
        "/orders/{id}/receive" => &[("product", "coating"), ("containers", "1")],
        "/jobs/new" | "/jobs/{id}" => NEW_JOB,
        "/jobs/{id}/start" | "/jobs/{id}/cancel" | "/jobs/{id}/vehicle" => &[("version", "1")],
        "/jobs/{id}/pour" => &[("product", "coating"), ("quantity", "5"), ("measure", "mL")],
        "/usage" => &[("job_type", "ceramic"), ("product", "coating"), ("quantity", "20")],
        "/setup/folder" => return Body::File("products.csv", SOAP),
        path if path.starts_with("/setup/") => of_setting_up(path),
        _ => &[],
    })
}

/// What the owner who is tried has signed in with.
pub const OLD_PASSWORD: &str = "eight lives of a gull";

fn of_setting_up(path: &str) -> &'static [(&'static str, &'static str)] {
    match path {
        "/setup/start" => &[("job_type", "wash"), ("product", "wash-shampoo")],
        "/setup/shop" => &[
            ("name", "Three Gulls"),
            ("timezone", "America/Halifax"),
            ("currency", "CAD"),
            ("units", "metric"),
            ("version", "1"),
        ],
        "/setup/suppliers/new" => &[("name", "East Quay"), ("lead_days", "2")],
        "/setup/suppliers/{id}" => &[("name", "North"), ("lead_days", "2"), ("version", "1")],
        "/setup/suppliers/{id}/offers" => {
            &[("product", "coating"), ("pack", "2"), ("price", "110.00"), ("version", "0")]
        }
        "/setup/products/new" => &[("name", "Wax"), ("container_size", "5"), ("unit", "L")],
        "/setup/products/{id}" => {
            &[("name", "Coat"), ("container_size", "50"), ("unit", "mL"), ("version", "1")]
        }
        "/setup/products/{id}/ratios" => &[("label", "half"), ("water", "1"), ("version", "0")],
        "/setup/job-types/new" => &[("name", "Quick rinse"), ("price", "30")],
        "/setup/job-types/{id}" => &[("name", "Ceramic"), ("version", "1")],
        _ => &[],
    }
}
