//! Holds the architecture page against the workspace, both ways, and each crate to what it does
//! not know.

#![allow(clippy::unwrap_used)]

mod modules;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use modules::{circles, folder_of, modules};
use serde_json::Value;

/// What a crate does not know, told by what it does not depend on.
const NEVER: [(&str, &[&str]); 10] = [
    (
        "capful-domain",
        &["serde_json", "tokio", "sqlx", "csv", "toml", "sea-orm", "axum", "clap", "rand"],
    ),
    ("capful-forecast", &["csv", "toml", "sea-orm", "sqlx", "axum", "tokio", "clap"]),
    (
        "capful-pictures",
        &["csv", "toml", "sea-orm", "sqlx", "axum", "tokio", "clap", "rand", "serde_json"],
    ),
    ("capful-folder", &["sea-orm", "sqlx", "axum", "tokio", "clap", "rand"]),
    ("capful-demo", &["csv", "toml", "sea-orm", "sqlx", "axum", "tokio", "clap"]),
    (
        "capful-simulation",
        &["csv", "toml", "sea-orm", "sqlx", "axum", "tokio", "clap", "capful-forecast"],
    ),
    ("capful-store", &["axum", "clap"]),
    ("capful-migrations", &["axum", "clap", "chrono", "serde_json"]),
    ("capful-api", &["sea-orm", "sqlx", "clap", "linfa", "statrs", "rand"]),
    ("capful-cli", &["sea-orm", "sqlx", "linfa", "statrs"]),
];

/// Which of our crates a crate may build on.
const BUILDS_ON: [(&str, &[&str]); 8] = [
    ("capful-domain", &[]),
    ("capful-forecast", &["capful-domain"]),
    ("capful-folder", &["capful-domain"]),
    ("capful-pictures", &["capful-domain", "capful-forecast"]),
    ("capful-store", &["capful-domain", "capful-folder", "capful-migrations"]),
    ("capful-migrations", &[]),
    ("capful-demo", &["capful-domain"]),
    ("capful-simulation", &["capful-domain"]),
];

/// The folders of a crate, each of which knows only those before it.
const FOLDERS: [(&str, &[&str]); 2] = [
    (
        "forecast",
        &["statistics", "inventory", "plan", "learn", "simulate", "decide", "planner", "backtest"],
    ),
    (
        "store",
        &["rows", "db", "queries", "request", "audit", "people", "books", "commands", "upkeep"],
    ),
];

/// Crates in which only a few files know each other all around.
const WITHOUT_CIRCLES: [&str; 7] =
    ["domain", "folder", "forecast", "pictures", "store", "cli", "simulation"];

/// Files that may know each other all around.
const MOST_OF_A_CIRCLE: usize = 3;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// Each crate of the workspace and the names that it builds on (tests aside).
fn workspace() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version=1", "--no-deps", "--offline"])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let crates = metadata["packages"].as_array().unwrap().iter().map(|package| {
        let dependencies = package["dependencies"].as_array().unwrap().iter();
        let built_on = dependencies.filter(|d| d["kind"].as_str() != Some("dev"));
        (text(&package["name"]), built_on.map(|d| text(&d["name"])).collect())
    });
    crates.collect()
}

fn page() -> String {
    std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap()
}

/// Every `capful-…` that the page names.
fn named(page: &str) -> BTreeSet<String> {
    let words = page.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-' || c == '_'));
    words.filter(|word| word.starts_with("capful-")).map(str::to_owned).collect()
}

#[test]
fn the_page_names_every_crate_and_no_other() {
    let crates: BTreeSet<String> = workspace().into_keys().collect();
    assert_eq!(named(&page()), crates);
}

/// Every path in backquotes that begins in a directory of ours.
fn paths(page: &str) -> Vec<&str> {
    let ours = ["crates/", "tests/", "scripts/", "config/", "migrations/", ".ci/"];
    let quoted = page.split('`').skip(1).step_by(2);
    // A command begins with its path.
    let words = quoted.filter_map(|text| text.split(' ').next());
    words.filter(|text| ours.iter().any(|start| text.starts_with(start))).collect()
}

#[test]
fn every_path_on_the_page_exists() {
    let page = page();
    let paths = paths(&page);
    assert!(!paths.is_empty());
    for path in paths {
        assert!(root().join(path).exists(), "DEVELOPERS.md names {path}, which is not there");
    }
}

/// The files that the code map names: the crate's directory and the file's name without `.rs`.
fn mapped(page: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut directory = None;
    for line in page.lines() {
        if line.starts_with('#') {
            let quoted = line.strip_prefix("### `").and_then(|rest| rest.split('`').next());
            directory = quoted.filter(|text| text.starts_with("crates/"));
        }
        let names = line.strip_prefix("* ").and_then(|rest| rest.split_once(": "));
        if let (Some(directory), Some((names, _))) = (directory, names) {
            let names = names.split('`').skip(1).step_by(2);
            found.extend(names.map(|name| (directory.to_owned(), name.to_owned())));
        }
    }
    found
}

#[test]
fn every_file_on_the_code_map_exists() {
    let mapped = mapped(&page());
    assert!(mapped.len() > 20, "the code map was not found: {mapped:?}");
    for (directory, name) in mapped {
        let source = root().join(&directory).join("src");
        let exists = source.join(format!("{name}.rs")).exists()
            || source.join(&name).join("mod.rs").exists();
        assert!(exists, "DEVELOPERS.md names `{name}` in {directory}, which is not there");
    }
}

#[test]
fn no_crate_depends_on_what_it_does_not_know() {
    let workspace = workspace();
    for (name, never) in NEVER {
        let Some(dependencies) = workspace.get(name) else { continue };
        for unknown in never {
            assert!(!dependencies.contains(*unknown), "{name} must not know {unknown}");
        }
    }
}

#[test]
fn crates_build_on_each_other_in_one_direction() {
    let workspace = workspace();
    for (name, allowed) in BUILDS_ON {
        let ours = workspace[name].iter().filter(|on| on.starts_with("capful-"));
        let ours: BTreeSet<&str> = ours.map(String::as_str).collect();
        assert_eq!(ours, allowed.iter().copied().collect(), "{name}");
    }
}

#[test]
fn a_folder_knows_only_those_before_it() {
    for (name, order) in FOLDERS {
        let modules = modules(&root().join("crates").join(name).join("src"));
        let place = |folder: &str| order.iter().position(|own| *own == folder);
        for (own, others) in modules.iter().filter(|(own, _)| !own.is_empty()) {
            let Some(at) = place(folder_of(own)) else {
                panic!("{name}: {own} is in no folder of the list");
            };
            for other in others {
                let is_before = place(folder_of(other)).is_some_and(|other| other <= at);
                assert!(is_before, "{name}: {own} must not know {other}");
            }
        }
    }
}

#[test]
fn no_circle_is_of_many_files() {
    for name in WITHOUT_CIRCLES {
        let modules = modules(&root().join("crates").join(name).join("src"));
        for circle in circles(&modules) {
            assert!(circle.len() <= MOST_OF_A_CIRCLE, "{name}: a circle of {circle:?}");
        }
    }
}
