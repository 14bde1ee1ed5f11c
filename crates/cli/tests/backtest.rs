//! `capful backtest`, run the way a person or a script runs it.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Place, capful};
use serde_json::Value;

#[test]
fn past_weeks_are_replayed_from_a_folder_or_the_database() {
    let place = Place::with_demo();
    let ask = ["backtest", "--as-of", "2026-03-04", "--weeks", "4", "--json"];
    let of_folder = [&ask[..], &["shop"]].concat();
    let said = place.run(&of_folder);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    let told: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(told["shop"], "Two Gulls Detailing");
    assert_eq!((&told["from"], &told["to"]), (&"2026-02-02".into(), &"2026-03-02".into()));
    assert_eq!(told["weeks"].as_array().unwrap().len(), 4);
    let first = &told["spans"][0];
    let methods: Vec<&str> = first["methods"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| m["method"].as_str().unwrap())
        .collect();
    assert_eq!(methods, ["plan", "sheet", "moving-average", "tsb", "smoothing"]);
    assert!(told["followed"]["shop"]["stalls"].is_null());
    assert_eq!(place.run(&of_folder).out, said.out);
    let of_database = place.run(&ask);
    assert_eq!((of_database.code, of_database.err.len()), (0, 0), "{:?}", of_database.err);
    let weeks: Value = serde_json::from_str(&of_database.out).unwrap();
    assert_eq!(weeks["from"], "2026-02-02");
}

#[test]
fn the_table_fits_the_screen_and_the_picture_is_drawn() {
    let place = Place::with_demo();
    let ask = ["backtest", "shop", "--as-of", "2026-03-04", "--weeks", "4", "--picture", "b.svg"];
    let said = place.run(&ask);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    for there in ["Demand foretold", "usage sheet × recent jobs", "Had the list been followed"] {
        assert!(said.out.contains(there), "{there}: {}", said.out);
    }
    let picture = std::fs::read_to_string(place.path("b.svg")).unwrap();
    assert!(picture.starts_with("<svg ") && picture.contains("The plan in 4 past weeks</title>"));
    let nowhere = place.run(&[
        "backtest",
        "shop",
        "--as-of",
        "2026-03-04",
        "--weeks",
        "1",
        "--picture",
        "no/b.svg",
    ]);
    assert_eq!(nowhere.code, 1);
    assert!(nowhere.err[0].starts_with("error: no/b.svg: "), "{:?}", nowhere.err);
}

#[test]
fn a_plan_is_drawn_into_a_directory() {
    let place = Place::with_demo();
    let said = place.run(&["plan", "shop", "--as-of", "2026-03-04", "--picture", "drawn"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    let files = std::fs::read_dir(place.path("drawn")).unwrap();
    let names: Vec<String> =
        files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    assert!(names.iter().any(|name| name.starts_with("demand-")), "{names:?}");
    assert!(names.iter().any(|name| name.starts_with("usage-")), "{names:?}");
}

#[test]
fn too_little_history_is_no() {
    let place = Place::with_demo();
    let said = place.run(&["backtest", "shop", "--as-of", "2024-09-15"]);
    assert_eq!(said.code, 1);
    assert!(said.err[0].contains("too little history to replay"), "{:?}", said.err);
    assert_eq!(capful(&["backtest", "shop", "--weeks", "0"]).code, 2);
}
