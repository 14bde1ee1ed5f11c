//! However much is wrong with a folder, what is told of it stays short enough to read and to hold.

#![allow(clippy::unwrap_used)]

mod common;

use std::fmt::Write as _;

use capful_folder::MOST_LISTED;
use common::with;

/// `pours.csv` with so many rows, each of a product that is not there.
fn wrong_pours(rows: usize) -> String {
    let mut text = "id,at,product,quantity,unit\n".to_owned();
    for row in 0..rows {
        writeln!(text, "X-{row},2026-03-02T09:10,nothing,110,mL").unwrap();
    }
    text
}

#[test]
fn every_problem_of_an_ordinary_folder_is_listed() {
    let errors = with(&[("pours.csv", &wrong_pours(MOST_LISTED))]).unwrap_err();
    assert_eq!((errors.problems.len(), errors.more_problems), (MOST_LISTED, 0));
    assert!(!errors.to_string().contains("more problems"));
}

#[test]
fn of_more_problems_the_first_are_listed_and_the_others_counted() {
    // The last file is looked at first where it has no header row to speak of.
    let lines = "order\nO-1\n";
    let files = [("pours.csv", &*wrong_pours(5000)), ("order_lines.csv", lines)];
    let errors = with(&files).unwrap_err();
    assert_eq!((errors.problems.len(), errors.total()), (MOST_LISTED, 5002));
    let listed: Vec<u64> = errors.problems.iter().map(|problem| problem.line).collect();
    assert_eq!(listed, (2..).take(MOST_LISTED).collect::<Vec<u64>>());
    assert!(errors.problems.iter().all(|problem| problem.file == "pours.csv"));
    let told = errors.to_string();
    assert_eq!(told.lines().count(), MOST_LISTED + 1);
    assert_eq!(told.lines().last(), Some("4002 more problems; the first 1000 are listed"));
}

#[test]
fn rows_that_cannot_be_split_are_counted_too_and_name_what_may_be_among_them() {
    let mut jobs = common::text("jobs.csv");
    for _ in 0..3000 {
        jobs.push_str("too,few\n");
    }
    let pours = "id,at,product,quantity,unit,job\nP-9,2026-03-02T09:10,iron,110,mL,J-77\n";
    let errors = with(&[("jobs.csv", &jobs), ("pours.csv", pours)]).unwrap_err();
    // Job J-77 may be one of the rows that cannot be read, so nothing is said of the pour.
    assert_eq!(errors.total(), 3000);
}

#[test]
fn of_many_oddities_the_first_are_listed_and_the_others_counted() {
    let mut counts = "id,at,product,sealed,unit\n".to_owned();
    for row in 0..1200 {
        writeln!(counts, "X-{row},2026-03-04,towel,2,each").unwrap();
    }
    let reading = with(&[("counts.csv", &counts)]).unwrap();
    assert_eq!((reading.warnings.len(), reading.more_warnings), (MOST_LISTED, 200));
    assert_eq!((reading.warnings[0].line, reading.warnings[999].line), (2, 1001));
}

#[test]
fn a_header_of_a_million_columns_is_one_problem() {
    let errors = with(&[("orders.csv", &",".repeat(1_000_000))]).unwrap_err();
    let told: Vec<String> = errors.problems.iter().map(ToString::to_string).collect();
    assert!(told[0].ends_with("expected a row of at most 256 fields"), "{}", told[0]);
}

#[test]
fn of_a_file_with_more_rows_than_any_shop_writes_the_rest_is_not_read() {
    let lines = format!("order\n{}", "O-1\n".repeat(2_000_001));
    let errors = with(&[("order_lines.csv", &lines)]).unwrap_err();
    let told: Vec<String> = errors.problems.iter().map(ToString::to_string).collect();
    // Two columns are missing, which is told once.
    assert_eq!(told.len(), 3);
    let last = r#"order_lines.csv:2000002: found "O-1", expected at most 2000000 rows"#;
    assert_eq!(told[2], last);
}

#[test]
fn settings_that_are_no_toml_at_all_are_told_of_line_by_line() {
    let errors = with(&[("shop.toml", &"= 1\n".repeat(20_000))]).unwrap_err();
    assert_eq!((errors.problems.len(), errors.total()), (MOST_LISTED, 20_000));
    assert_eq!(errors.problems[999].line, 1000);
}

#[test]
fn settings_that_are_too_long_to_be_settings_are_not_read() {
    let settings = format!("{}#{}", common::text("shop.toml"), "x".repeat(1 << 20));
    let errors = with(&[("shop.toml", &settings)]).unwrap_err();
    let told = errors.problems[0].to_string();
    assert!(told.ends_with("expected a file of at most 1048576 bytes"), "{told}");
}
