//! Adding what is new in one folder to what a shop has.

#![allow(clippy::unwrap_used)]

mod common;

use capful_domain::{Currency, Id, Job, Shop};
use capful_folder::{Facts, MOST_LISTED, merge, read_files};
use common::with;

fn facts() -> Facts {
    read_files(&common::folder()).unwrap().facts
}

#[test]
fn a_shop_with_nothing_takes_all_and_the_second_time_nothing() {
    let empty = Facts::new(facts().shop);
    let (merged, added) = merge(&empty, facts()).unwrap();
    assert_eq!(merged, facts());
    assert_eq!(added.by_file[0], ("products.csv", 3));
    assert_eq!((added.by_file.len(), added.total()), (15, 26));
    let (again, added) = merge(&merged, facts()).unwrap();
    assert_eq!(again, merged);
    assert_eq!(added.total(), 0);
}

#[test]
fn only_what_is_new_is_added() {
    let lines = "order,product,packs,supplier_code\nO-1,iron,2,ND-1\nO-1,iron,2,ND-1\n";
    let ratios = "product,label,water\napc,glass,10\napc,heavy,2.5\n";
    let new = with(&[("order_lines.csv", lines), ("ratios.csv", ratios)]).unwrap().facts;
    let (merged, added) = merge(&facts(), new.clone()).unwrap();
    assert_eq!(added.by_file, [("ratios.csv", 1), ("order_lines.csv", 1)]);
    assert_eq!(merged.ratios.len(), 3);
    assert_eq!(merged.ratios[2].label, "glass");
    assert_eq!(merge(&merged, new).unwrap().1.total(), 0);
}

#[test]
fn a_row_that_is_there_with_other_content_is_an_error() {
    let mut new = facts();
    new.pours[1].method = None;
    new.pours[0].job = None;
    new.ratios[0].ratio = new.ratios[1].ratio;
    new.shop = Shop::new("A", chrono_tz::UTC, Currency::parse("USD").unwrap());
    let told: Vec<_> = merge(&facts(), new).unwrap_err().iter().map(ToString::to_string).collect();
    let content = "expected the same content as the row that is there already";
    let shop = |key, found, here| {
        format!("shop.toml: key {key:?}: found {found:?}, expected {here}, as the shop has it")
    };
    assert_eq!(
        told,
        [
            shop("timezone", "UTC", "America/Halifax"),
            shop("currency", "USD", "CAD"),
            format!(r#"ratios.csv: column "product": found "apc, wheels", {content}"#),
            format!(r#"pours.csv: column "id": found "P-1", {content}"#),
        ]
    );
}

#[test]
fn the_settings_of_the_shop_stay() {
    let mut new = facts();
    new.shop.name = "Three Gulls".to_owned();
    assert_eq!(merge(&facts(), new).unwrap().0.shop.name, "Two Gulls Detailing");
}

#[test]
fn of_many_rows_with_other_content_the_first_are_listed_and_the_others_counted() {
    let jobs = |vehicle: &str| {
        let mut facts = facts();
        let job = facts.jobs.pop().unwrap();
        facts.jobs = (0..1500).map(|n| job_of(&job, n, vehicle)).collect();
        facts
    };
    let problems = merge(&jobs("Grey wagon"), jobs("Blue estate")).unwrap_err();
    assert_eq!(problems.len(), MOST_LISTED + 1);
    assert_eq!(
        problems[MOST_LISTED].to_string(),
        "jobs.csv: found \"500 more rows\", expected the same content as the rows that are there \
         already"
    );
}

fn job_of(job: &Job, number: usize, vehicle: &str) -> Job {
    let id = Id::parse(&format!("X-{number}")).unwrap();
    Job { id, vehicle: Some(vehicle.to_owned()), ..job.clone() }
}
