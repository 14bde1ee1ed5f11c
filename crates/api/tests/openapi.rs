//! The description of the service, as it was last reviewed.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use serde_json::Value;

fn document() -> Value {
    serde_json::to_value(capful_api::document()).unwrap()
}

#[test]
fn the_description_is_the_one_that_was_reviewed() {
    insta::assert_json_snapshot!("openapi", document());
}

/// Every value of the document that has this key.
fn all<'v>(value: &'v Value, key: &str, found: &mut Vec<&'v Value>) {
    match value {
        Value::Object(map) => {
            found.extend(map.get(key));
            map.values().for_each(|inner| all(inner, key, found));
        }
        Value::Array(list) => list.iter().for_each(|inner| all(inner, key, found)),
        _ => {}
    }
}

#[test]
fn every_reference_leads_somewhere() {
    let document = document();
    let mut found = Vec::new();
    all(&document, "$ref", &mut found);
    assert!(found.len() > 20, "{found:?}");
    for reference in found.iter().map(|reference| reference.as_str().unwrap()) {
        let place = reference.trim_start_matches('#');
        assert!(document.pointer(place).is_some(), "{reference} leads nowhere");
    }
}

#[test]
fn every_operation_says_what_it_is_for_and_needs_a_token() {
    let document = document();
    let mut names = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        let is_open = ["/healthz", "/readyz"].contains(&path.as_str());
        assert!(is_open || path == "/metrics" || path.starts_with("/api/v1/"), "{path}");
        for (method, operation) in item.as_object().unwrap() {
            let at = format!("{method} {path}");
            assert!(operation["summary"].is_string(), "{at}");
            assert!(operation["tags"].is_array(), "{at}");
            assert_eq!(operation["security"][0]["token"].is_array(), !is_open, "{at}");
            // Each status that really comes is there, and none that only might.
            let told = |status: &str| operation["responses"][status].is_object();
            assert!(!told("default"), "{at}");
            assert_eq!(told("401") && told("500") && told("503"), !is_open, "{at}");
            let changes = method != "get";
            for status in ["409", "413", "415", "422"] {
                assert_eq!(told(status), changes, "{at}: {status}");
            }
            assert_eq!(told("404"), path.contains('{'), "{at}");
            assert_eq!(told("428"), ["put", "patch"].contains(&method.as_str()), "{at}");
            assert!(names.insert(operation["operationId"].clone().to_string()), "{at}");
        }
    }
}

#[test]
fn what_is_sent_beside_a_body_and_what_watches_over_it_are_described() {
    let document = document();
    let headers = |path: &str, method: &str| {
        let list = document["paths"][path][method]["parameters"].as_array().unwrap().iter();
        let own = list.filter(|parameter| parameter["in"] == "header");
        own.map(|parameter| parameter["name"].as_str().unwrap()).collect::<Vec<_>>()
    };
    let key = "Idempotency-Key";
    let put = headers("/api/v1/products/{id}", "put");
    assert_eq!(put, [key, "If-Match", "If-None-Match"]);
    assert_eq!(headers("/api/v1/jobs/{id}", "patch"), [key, "If-Match"]);
    for path in ["jobs/{id}/start", "jobs/{id}/cancel", "jobs/{id}/finish", "orders/{id}/end"] {
        assert_eq!(headers(&format!("/api/v1/{path}"), "post"), [key, "If-Match"], "{path}");
    }
    for (path, is_guarded) in [("/healthz", false), ("/readyz", false), ("/metrics", true)] {
        let operation = &document["paths"][path]["get"];
        assert!(operation.is_object(), "{path}");
        assert_eq!(operation["security"].is_array(), is_guarded, "{path}");
    }
}
