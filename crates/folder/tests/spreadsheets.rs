//! No text of a shop is run by a spreadsheet that opens its folder, and every text comes back.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::Facts;
use capful_folder::{read_files, to_files};
use common::with;
use proptest::prelude::*;

/// Puts a text everywhere where a shop may write what it likes; `notes` may have lines and tabs.
fn with_texts(text: &str, notes: &str) -> Facts {
    let mut facts = read_files(&common::folder()).unwrap().facts;
    let own = || Some(text.to_owned());
    let product = &mut facts.products[0];
    product.name = text.to_owned();
    (product.category, product.notes) = (own(), Some(notes.to_owned()));
    product.hazards = vec![text.trim().replace(';', ",")];
    product.protection = product.hazards.clone();
    facts.ratios[0].label = text.to_owned();
    facts.suppliers[0].name = text.to_owned();
    facts.offers[0].code = own();
    facts.job_types[0].name = text.to_owned();
    facts.jobs[0].vehicle = own();
    facts.receipts[0].lot = own();
    facts.order_lines[0].supplier_code = own();
    facts
}

/// Every cell that stands in the files, without the quotes around it.
fn cells(facts: &Facts) -> Vec<String> {
    let mut cells = Vec::new();
    for (name, bytes) in to_files(facts) {
        if name == "shop.toml" {
            continue;
        }
        let text = String::from_utf8(bytes).unwrap();
        let (mut cell, mut quoted) = (String::new(), false);
        let mut chars = text.chars().peekable();
        while let Some(c) = chars.next() {
            match c {
                '"' if quoted && chars.next_if_eq(&'"').is_some() => cell.push('"'),
                '"' => quoted = !quoted,
                '\r' if !quoted => {}
                ',' | '\n' if !quoted => cells.push(std::mem::take(&mut cell)),
                _ => cell.push(c),
            }
        }
    }
    cells
}

#[test]
fn a_name_that_is_a_formula_is_written_as_a_text() {
    let facts = with_texts("=HYPERLINK(\"x\")", "\t=1");
    let products = String::from_utf8(to_files(&facts)["products.csv"].clone()).unwrap();
    assert!(products.contains("\"'=HYPERLINK(\"\"x\"\")\""), "{products}");
    assert!(products.contains("'\t=1"), "{products}");
    let jobs = String::from_utf8(to_files(&facts)["jobs.csv"].clone()).unwrap();
    assert!(jobs.contains(",\"'=HYPERLINK(\"\"x\"\")\",320.00"), "{jobs}");
    assert_eq!(read_files(&to_files(&facts)).unwrap().facts, facts);
}

#[test]
fn an_apostrophe_that_others_wrote_stays_where_it_says_nothing_of_formulas() {
    let name = |cell: &str| {
        let ratios = format!("product,label,water\napc,{cell},5\n");
        with(&[("ratios.csv", &ratios)]).unwrap().facts.ratios[0].label.clone()
    };
    assert_eq!(name("'90s wheels"), "'90s wheels");
    assert_eq!(name("=wheels"), "=wheels");
    assert_eq!(name("'=wheels"), "=wheels");
    assert_eq!(name("''=wheels"), "'=wheels");
    assert_eq!(name("'"), "'");
}

#[test]
fn an_id_and_a_number_are_written_as_they_are() {
    let ratios = "product,label,water\n-apc,x,5\n";
    let products = "id,name,unit,container_size\n-apc,Strong,mL,500\n";
    let empty = ["offers.csv", "job_types.csv", "usage_sheet.csv", "jobs.csv", "pours.csv"];
    let rest = ["receipts.csv", "openings.csv", "discards.csv", "mixes.csv", "counts.csv"];
    let mut files = common::folder();
    for name in empty.iter().chain(&rest).chain(&["order_lines.csv"]) {
        files.remove(*name);
    }
    files.insert("ratios.csv".to_owned(), ratios.into());
    files.insert("products.csv".to_owned(), products.into());
    let facts = read_files(&files).unwrap().facts;
    let written = String::from_utf8(to_files(&facts)["ratios.csv"].clone()).unwrap();
    assert_eq!(written, "product,label,water\r\n-apc,x,5\r\n");
}

proptest! {
    #[test]
    fn any_text_comes_back_and_none_runs(
        text in "['=+@\u{ff1d}\u{ff20}-]{0,3}[ -~é€]{0,8}[a-z]",
        notes in "['=+@\t\n-]{0,3}(\r\n)?[ -~é€]{0,8}[a-z]",
    ) {
        let facts = with_texts(&text, &notes);
        for cell in cells(&facts) {
            prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']), "{cell:?}");
        }
        prop_assert_eq!(read_files(&to_files(&facts)).unwrap().facts, facts);
    }
}
