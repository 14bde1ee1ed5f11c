//! The built program, run the way a person or a script runs it.

#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::Path;

use common::capful;
use serde_json::Value;
use tempfile::TempDir;

/// A temporary directory with the demo shop of a Wednesday in it.
fn demo() -> (TempDir, String) {
    let directory = tempfile::tempdir().unwrap();
    let folder = directory.path().join("shop").to_str().unwrap().to_owned();
    let said = capful(&["demo", &folder, "--as-of", "2026-03-04"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    (directory, folder)
}

fn plan(folder: &str, as_of: &str) -> Value {
    let said = capful(&["plan", folder, "--as-of", as_of, "--json"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    assert!(said.out.ends_with("}\n"));
    serde_json::from_str(&said.out).unwrap()
}

fn keys(value: &Value, named: &[&str]) {
    for key in named {
        assert!(value.get(key).is_some(), "no {key:?} in {value}");
    }
}

#[test]
fn the_plan_of_the_demo_shop_has_its_fixed_fields() {
    let (_directory, folder) = demo();
    let plan = plan(&folder, "2026-03-04");
    assert_eq!(plan["shop"], "Two Gulls Detailing");
    assert_eq!(plan["as_of"], "2026-03-04");
    assert_eq!(plan["seed"], 1);
    keys(&plan, &["weekly_order", "products", "going_off", "readiness", "usage", "warnings"]);
    keys(&plan["weekly_order"], &["orders", "total"]);
    let first = |part: &Value| part.as_array().unwrap().first().cloned();
    if let Some(order) = first(&plan["weekly_order"]["orders"]) {
        keys(&order, &["supplier", "place_by", "arrives", "goods", "freight", "total", "lines"]);
        keys(&order["arrives"], &["p50", "p90"]);
        let line = first(&order["lines"]).unwrap();
        keys(&line, &["product", "packs", "containers", "cost", "expected_waste", "why"]);
        keys(&line, &["stall_chance_without", "stall_chance_with"]);
    }
    if let Some(product) = first(&plan["products"]) {
        keys(&product, &["product", "on_hand", "on_order", "reorder_point", "order_up_to"]);
        keys(&product["on_hand"], &["amount", "unit"]);
        keys(&product["lead_days"], &["mean", "p90"]);
        keys(&product["demand"], &["from", "to", "mean", "sd", "p10", "p50", "p90", "p95"]);
        keys(&product["cover_days"], &["p10", "p50", "p90"]);
    }
    if let Some(container) = first(&plan["going_off"]) {
        keys(&container, &["container", "product", "lot", "state", "left", "use_by", "days_left"]);
        keys(&container, &["expected_waste", "waste_cost", "advice"]);
    }
    if let Some(job) = first(&plan["readiness"]) {
        keys(&job, &["job", "planned_on", "ready_chance", "short_of", "set_out"]);
    }
    if let Some(row) = first(&plan["usage"]) {
        keys(&row, &["job_type", "product", "size", "condition", "mean", "sd", "mean_p10"]);
        keys(&row, &["mean_p90", "share_of_jobs", "sheet", "jobs_seen"]);
    }
}

#[test]
fn the_same_question_gets_the_same_bytes() {
    let (_directory, folder) = demo();
    let ask = || capful(&["plan", &folder, "--as-of", "2026-03-04", "--seed", "7", "--json"]);
    let once = ask();
    assert_eq!(once.out, ask().out);
    let plan: Value = serde_json::from_str(&once.out).unwrap();
    assert_eq!(plan["seed"], 7);
}

#[test]
fn earlier_days_are_answered_as_they_were() {
    let (_directory, folder) = demo();
    for day in ["2024-06-01", "2025-01-15", "2025-11-03"] {
        assert_eq!(plan(&folder, day)["as_of"], day);
        assert_eq!(capful(&["plan", &folder, "--as-of", day]).code, 0, "{day}");
        assert_eq!(capful(&["check", &folder, "--as-of", day]).code, 0, "{day}");
    }
    assert_eq!(plan(&folder, "2026-01-15T23:30")["as_of"], "2026-01-15");
    assert_eq!(plan(&folder, "2026-01-16T02:30:00Z")["as_of"], "2026-01-15");
}

#[test]
fn the_plan_fits_one_screen() {
    let (_directory, folder) = demo();
    let said = capful(&["plan", &folder, "--as-of", "2026-03-04"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    assert!(said.out.lines().count() <= 48, "{} lines", said.out.lines().count());
    for line in said.out.lines() {
        assert!(line.chars().count() <= 80, "longer than 80 columns: {line}");
        assert!(!line.contains('\u{1b}'), "coloured though nobody looks: {line:?}");
    }
}

#[test]
fn parts_products_and_jobs_open() {
    let (_directory, folder) = demo();
    let open = |what: &str| capful(&["plan", &folder, "--as-of", "2026-03-04", "--open", what]);
    let order = open("order");
    assert_eq!(order.code, 0, "{:?}", order.err);
    assert!(!order.out.trim().is_empty());
    let plan = plan(&folder, "2026-03-04");
    for (list, field) in [("products", "product"), ("readiness", "job")] {
        let Some(one) = plan[list].as_array().unwrap().first() else { continue };
        let said = open(one[field].as_str().unwrap());
        assert_eq!(said.code, 0, "{:?}", said.err);
        assert!(said.out.contains(one[field].as_str().unwrap()), "{}", said.out);
    }
    let said = open("no-such-thing");
    assert_eq!((said.code, said.out.as_str(), said.err.len()), (1, "", 1));
    assert!(said.err[0].starts_with("error: nothing in this plan is called \"no-such-thing\""));
}

#[test]
fn check_lists_the_shelf_and_opens_a_product() {
    let (_directory, folder) = demo();
    let said = capful(&["check", &folder, "--as-of", "2026-03-04"]);
    assert_eq!((said.code, said.err.len()), (0, 0), "{:?}", said.err);
    assert!(said.out.contains("every container holds the sum of its movements"));
    let json = capful(&["check", &folder, "--as-of", "2026-03-04", "--json"]);
    let shelf: Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(shelf["differences"], Value::Array(vec![]));
    for product in shelf["products"].as_array().unwrap() {
        let containers = product["containers"].as_array().unwrap();
        let sum: f64 = containers.iter().map(|c| c["left"]["amount"].as_f64().unwrap()).sum();
        let left = product["left"]["amount"].as_f64().unwrap();
        assert!((sum - left).abs() < 0.01, "{}: {sum} and {left}", product["product"]);
    }
    let product = &shelf["products"][0];
    let id = product["product"].as_str().unwrap();
    let opened = capful(&["check", &folder, "--as-of", "2026-03-04", "--open", id]);
    assert_eq!(opened.code, 0);
    for container in product["containers"].as_array().unwrap() {
        assert!(opened.out.contains(container["container"].as_str().unwrap()));
    }
    assert_eq!(capful(&["check", &folder, "--open", "no-such-product"]).code, 1);
}

#[test]
fn a_damaged_folder_gets_each_error_on_a_line_and_no_plan() {
    let (_directory, folder) = demo();
    let path = Path::new(&folder).join("counts.csv");
    let counts = fs::read_to_string(&path).unwrap();
    let torn: Vec<String> = counts
        .lines()
        .enumerate()
        .map(|(n, line)| if n == 1 || n == 2 { line.replacen("20", "2O", 1) } else { line.into() })
        .collect();
    fs::write(&path, torn.join("\n")).unwrap();
    fs::write(Path::new(&folder).join("shelf.txt"), "note to self").unwrap();
    for command in ["plan", "check"] {
        let said = capful(&[command, &folder]);
        assert_eq!((said.code, said.out.as_str()), (1, ""));
        let told = |word: &str| said.err.iter().filter(|line| line.starts_with(word)).count();
        assert_eq!((told("warning: shelf.txt"), told("error: counts.csv:")), (1, 2));
        assert_eq!(said.err.len(), 3, "{:?}", said.err);
    }
}

#[test]
fn an_unknown_file_is_a_warning_beside_the_plan() {
    let (_directory, folder) = demo();
    fs::write(Path::new(&folder).join("shelf.txt"), "note to self").unwrap();
    let said = capful(&["plan", &folder]);
    assert_eq!((said.code, said.err.len()), (0, 1));
    assert!(said.out.starts_with("Two Gulls Detailing"));
}

#[test]
fn what_is_no_folder_is_told() {
    let directory = tempfile::tempdir().unwrap();
    let empty = directory.path().to_str().unwrap();
    let nowhere = directory.path().join("nowhere");
    for folder in [empty, nowhere.to_str().unwrap()] {
        let said = capful(&["plan", folder]);
        assert_eq!((said.code, said.out.as_str(), said.err.len()), (1, "", 1));
    }
}

#[test]
fn wrong_usage_is_answered_with_two() {
    let wrong: [&[&str]; 7] = [
        &[],
        &["polish"],
        &["plan"],
        &["plan", "shop", "--as-of", "tomorrow"],
        &["plan", "shop", "--seed", "-1"],
        &["plan", "shop", "--json", "--open", "order"],
        &["completions", "abacus"],
    ];
    for args in wrong {
        assert_eq!(capful(args).code, 2, "{args:?}");
    }
    assert_eq!(capful(&["--help"]).code, 0);
    assert_eq!(capful(&["--version"]).code, 0);
}

#[test]
fn completions_name_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let said = capful(&["completions", shell]);
        assert_eq!(said.code, 0);
        for command in [
            "plan",
            "check",
            "serve",
            "import",
            "export",
            "backup",
            "restore",
            "move",
            "migrate",
            "token",
            "person",
            "demo",
            "completions",
        ] {
            assert!(said.out.contains(command), "{shell}: {command}");
        }
    }
}

#[test]
fn the_demo_shop_never_writes_over_work() {
    let (_directory, folder) = demo();
    let again = capful(&["demo", &folder, "--as-of", "2026-03-09"]);
    assert_eq!(again.code, 0, "an untouched demo shop is written anew: {:?}", again.err);
    let path = Path::new(&folder).join("offers.csv");
    let offers = fs::read_to_string(&path).unwrap();
    let first = offers.lines().nth(1).unwrap();
    let fewer: String = offers.lines().filter(|l| *l != first).map(|l| format!("{l}\n")).collect();
    fs::write(&path, &fewer).unwrap();
    let refused = capful(&["demo", &folder, "--as-of", "2026-03-09"]);
    assert_eq!((refused.code, refused.out.as_str(), refused.err.len()), (1, "", 1));
    assert_eq!(fs::read_to_string(&path).unwrap(), fewer);
    assert_eq!(capful(&["demo", &folder, "--as-of", "2026-03-09", "--force"]).code, 0);
    assert_eq!(fs::read_to_string(&path).unwrap(), offers);
}

#[test]
fn a_folder_of_something_else_is_left_alone() {
    let directory = tempfile::tempdir().unwrap();
    fs::write(directory.path().join("letter.txt"), "dear gulls").unwrap();
    let said = capful(&["demo", directory.path().to_str().unwrap(), "--no-serve"]);
    assert_eq!((said.code, said.err.len()), (1, 1));
    assert_eq!(fs::read_dir(directory.path()).unwrap().count(), 1);
}
