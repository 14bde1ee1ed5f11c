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
        assert!(path.starts_with("/api/v1/"), "{path}");
        for (method, operation) in item.as_object().unwrap() {
            let at = format!("{method} {path}");
            assert!(operation["summary"].is_string(), "{at}");
            assert!(operation["tags"].is_array(), "{at}");
            assert!(operation["security"][0]["token"].is_array(), "{at}");
            assert!(operation["responses"]["default"].is_object(), "{at}");
            assert!(names.insert(operation["operationId"].clone().to_string()), "{at}");
        }
    }
}
