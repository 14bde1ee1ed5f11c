//! The demo shop stands up: it is the same for the same seed, everything in it resolves, and
//! today is always inside.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;

use capful_demo::demo_shop;
use capful_domain::facts::{Method, OrderStatus};
use capful_domain::{Facts, Id, JobStatus, Quantity, Ratio};
use chrono::{Datelike, Days, Months, NaiveDate, Timelike, Weekday};

fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

const MONDAY: (i32, u32, u32) = (2026, 3, 2);

fn shop() -> Facts {
    demo_shop(day(MONDAY.0, MONDAY.1, MONDAY.2), 1)
}

fn ids<'a>(ids: impl Iterator<Item = &'a Id>) -> BTreeSet<&'a Id> {
    ids.collect()
}

#[test]
fn same_day_and_seed_same_facts() {
    assert_eq!(shop(), shop());
    assert_ne!(shop(), demo_shop(day(2026, 3, 2), 2));
}

#[test]
fn the_shop_is_set_up_in_full() {
    let facts = shop();
    assert!(facts.products.len() >= 28);
    assert!(facts.job_types.len() >= 12);
    assert_eq!(facts.suppliers.len(), 4);
    for product in &facts.products {
        assert!(facts.offers.iter().any(|o| o.product == product.id), "{} for sale", product.id);
        assert!(product.size() > Quantity::ZERO);
        let used = facts.usage_sheet.iter().any(|row| row.product == product.id);
        assert!(used, "{} on the sheet", product.id);
    }
    for job_type in &facts.job_types {
        let rows = facts.usage_sheet.iter().filter(|row| row.job_type == job_type.id).count();
        assert!((3..=9).contains(&rows), "{}: {rows}", job_type.id);
    }
}

#[test]
fn barcodes_are_valid_and_nobodys() {
    for gtin in shop().products.iter().filter_map(|product| product.gtin.clone()) {
        assert!(gtin.len() == 13 && gtin.starts_with("29"), "{gtin}");
        let digits = gtin.bytes().map(|b| u32::from(b - b'0'));
        let sum: u32 = digits.zip([1, 3].into_iter().cycle()).map(|(d, w)| d * w).sum();
        assert_eq!(sum % 10, 0, "{gtin}");
    }
}

#[test]
fn every_reference_resolves() {
    let facts = shop();
    let products = ids(facts.products.iter().map(|row| &row.id));
    let suppliers = ids(facts.suppliers.iter().map(|row| &row.id));
    let job_types = ids(facts.job_types.iter().map(|row| &row.id));
    let jobs = ids(facts.jobs.iter().map(|row| &row.id));
    let orders = ids(facts.orders.iter().map(|row| &row.id));
    let named = facts.ratios.iter().map(|row| &row.product);
    let named = named.chain(facts.offers.iter().map(|row| &row.product));
    let named = named.chain(facts.usage_sheet.iter().map(|row| &row.product));
    let named = named.chain(facts.pours.iter().map(|row| &row.product));
    let named = named.chain(facts.receipts.iter().map(|row| &row.product));
    let named = named.chain(facts.openings.iter().map(|row| &row.product));
    let named = named.chain(facts.discards.iter().map(|row| &row.product));
    let named = named.chain(facts.mixes.iter().map(|row| &row.product));
    let named = named.chain(facts.counts.iter().map(|row| &row.product));
    let named = named.chain(facts.order_lines.iter().map(|row| &row.product));
    let mut named = named.chain(facts.products.iter().flat_map(|row| &row.substitutes));
    assert!(named.all(|id| products.contains(id)));
    assert!(facts.offers.iter().all(|row| suppliers.contains(&row.supplier)));
    assert!(facts.orders.iter().all(|row| suppliers.contains(&row.supplier)));
    assert!(facts.receipts.iter().flat_map(|r| &r.supplier).all(|id| suppliers.contains(id)));
    assert!(facts.receipts.iter().flat_map(|r| &r.order).all(|id| orders.contains(id)));
    assert!(facts.order_lines.iter().all(|row| orders.contains(&row.order)));
    assert!(facts.pours.iter().flat_map(|row| &row.job).all(|id| jobs.contains(id)));
    assert!(facts.jobs.iter().flat_map(|row| &row.job_types).all(|id| job_types.contains(id)));
    assert!(facts.usage_sheet.iter().all(|row| job_types.contains(&row.job_type)));
    let back = facts.job_types.iter().flat_map(|row| &row.comes_back);
    assert!(back.flat_map(|row| &row.job_type).all(|id| job_types.contains(id)));
    for rows in [jobs.len() == facts.jobs.len(), orders.len() == facts.orders.len()] {
        assert!(rows, "ids are unique");
    }
}

#[test]
fn containers_are_those_that_receipts_and_mixes_brought() {
    let facts = shop();
    let mut there = BTreeSet::new();
    for receipt in &facts.receipts {
        there.extend((1..=receipt.containers).map(|n| (format!("{}/{n}", receipt.id), receipt.at)));
    }
    there.extend(facts.mixes.iter().map(|mix| (mix.id.to_string(), mix.at)));
    let pours = facts.pours.iter().map(|row| (&row.container, row.at));
    let openings = facts.openings.iter().map(|row| (&row.container, row.at));
    let discards = facts.discards.iter().map(|row| (&row.container, row.at));
    let counts = facts.counts.iter().map(|row| (&row.container, row.at));
    for (container, at) in pours.chain(openings).chain(discards).chain(counts) {
        let Some(container) = container else { continue };
        let brought = there.iter().any(|(id, since)| id == container.as_str() && *since <= at);
        assert!(brought, "{container} is there at {at}");
    }
    let mut opened = BTreeSet::new();
    for container in facts.openings.iter().flat_map(|row| &row.container) {
        assert!(opened.insert(container), "{container} is opened once");
    }
}

#[test]
fn what_is_poured_fits_into_what_came() {
    let facts = shop();
    for product in &facts.products {
        let poured: Quantity = facts
            .pours
            .iter()
            .filter(|row| row.product == product.id)
            .map(|row| {
                let written = product.quantity(row.amount).unwrap();
                assert!(written >= Quantity::ZERO);
                row.ratio.unwrap_or(Ratio::NEAT).product_in(written)
            })
            .sum();
        let came = facts.receipts.iter().filter(|row| row.product == product.id);
        let came: Quantity = came.map(|row| product.size().times(i64::from(row.containers))).sum();
        assert!(poured <= came, "{}: {poured:?} of {came:?}", product.id);
    }
}

#[test]
fn pours_are_of_done_jobs_while_they_last() {
    let facts = shop();
    let done = facts.jobs.iter().filter(|job| job.status == JobStatus::Done).count();
    let mut measured = BTreeSet::new();
    for pour in &facts.pours {
        let id = pour.job.as_ref().unwrap();
        let job = facts.jobs.iter().find(|job| job.id == *id).unwrap();
        assert_eq!(job.status, JobStatus::Done);
        assert!(job.started_at.unwrap() <= pour.at);
        assert!(pour.at <= job.finished_at.unwrap(), "{} at {}", pour.id, pour.at);
        measured.insert(id);
    }
    let share = measured.len() as f64 / done as f64;
    assert!((0.12..0.3).contains(&share), "{share}");
    assert!(facts.pours.iter().any(|pour| pour.method == Some(Method::Weighed)));
    assert!(facts.pours.iter().any(|pour| pour.amount.number.is_zero()));
}

#[test]
fn eighteen_months_at_eight_vehicles_a_week() {
    let facts = shop();
    let today = day(2026, 3, 2);
    let first = facts.jobs.iter().map(|job| job.planned_on).min().unwrap();
    assert!(first < today - Months::new(18) + Days::new(7));
    let gone = facts.jobs.iter().filter(|job| job.planned_on < today).count();
    let a_week = gone as f64 / 78.0;
    assert!((6.5..9.5).contains(&a_week), "{a_week}");
    let cancelled = facts.jobs.iter().filter(|job| job.status == JobStatus::Cancelled).count();
    assert!(cancelled > 10);
}

#[test]
fn everything_happens_in_working_hours() {
    let facts = shop();
    let shop = &facts.shop;
    let jobs = facts.jobs.iter();
    let jobs = jobs.flat_map(|j| [Some(j.booked_at), j.started_at, j.finished_at, j.cancelled_at]);
    let moments = jobs.flatten().chain(facts.pours.iter().map(|row| row.at));
    let moments = moments.chain(facts.receipts.iter().map(|row| row.at));
    let moments = moments.chain(facts.openings.iter().map(|row| row.at));
    let moments = moments.chain(facts.counts.iter().map(|row| row.at));
    let moments = moments.chain(facts.discards.iter().map(|row| row.at));
    let moments = moments.chain(facts.mixes.iter().map(|row| row.at));
    for moment in moments.chain(facts.orders.iter().map(|row| row.placed_at)) {
        let local = moment.with_timezone(&shop.timezone);
        assert!((8..18).contains(&local.hour()), "{local}");
        assert_ne!(local.weekday(), Weekday::Sun, "{local}");
    }
}

/// Today lies between what is over and what is to come, on every day that it can be.
#[test]
fn today_is_always_inside() {
    let days =
        [(2024, 2, 29), (2025, 12, 31), (2026, 1, 1), (2026, 3, 8), (2026, 7, 4), (2027, 8, 30)];
    for (seed, (y, m, d)) in (1..).zip(days) {
        let today = day(y, m, d);
        let facts = demo_shop(today, seed);
        let start = facts.shop.start_of(today);
        let ended = facts.jobs.iter().filter_map(|job| job.finished_at).max().unwrap();
        assert!(ended < start && ended > start - chrono::Duration::days(12), "{today}");
        for job in &facts.jobs {
            assert!(job.booked_at < start);
            assert!(job.cancelled_at.is_none_or(|at| at < start && at > job.booked_at));
            if job.status == JobStatus::Booked {
                assert!(job.planned_on >= today && facts.shop.is_open(job.planned_on));
            }
        }
        let happened = facts.pours.iter().map(|row| row.at);
        let happened = happened.chain(facts.receipts.iter().map(|row| row.at));
        let happened = happened.chain(facts.counts.iter().map(|row| row.at));
        let happened = happened.chain(facts.discards.iter().map(|row| row.at));
        let mut happened = happened.chain(facts.orders.iter().map(|row| row.placed_at));
        assert!(happened.all(|at| at < start));
    }
}

/// The morning of the demo has something to show.
#[test]
fn the_last_weeks_are_worth_a_look() {
    for (seed, (y, m, d)) in (1..).zip([MONDAY, (2026, 7, 8), (2025, 11, 21)]) {
        let today = day(y, m, d);
        let facts = demo_shop(today, seed);
        let booked = || facts.jobs.iter().filter(|job| job.status == JobStatus::Booked);
        let ahead = booked().filter(|job| job.planned_on < today + Days::new(21)).count();
        assert!((10..=14).contains(&ahead), "{today}: {ahead} jobs ahead");
        let first = booked().map(|job| job.planned_on).min();
        let open = today.iter_days().find(|day| facts.shop.is_open(*day));
        assert_eq!(first, open, "a job on the first open day");
        let out = facts.orders.iter().filter(|o| o.status == Some(OrderStatus::Placed)).count();
        assert!(out > 0, "{today}: an order still out");
        let going_off = facts.openings.iter().any(|opening| {
            let product = facts.products.iter().find(|p| p.id == opening.product).unwrap();
            let thrown = facts.discards.iter().any(|row| row.container == opening.container);
            let Some(days) = product.open_days.filter(|days| *days <= 30) else { return false };
            let use_by = facts.shop.day_of(opening.at) + Days::new(days.into());
            !thrown && (today + Days::new(1)..today + Days::new(9)).contains(&use_by)
        });
        assert!(going_off, "{today}: an opened coating near its use-by");
    }
}

#[test]
fn written_as_a_folder_it_reads_back_the_same() {
    for (seed, (y, m, d)) in (1..).zip([MONDAY, (2024, 2, 29)]) {
        let facts = demo_shop(day(y, m, d), seed);
        let reading = capful_folder::read_files(&capful_folder::to_files(&facts)).unwrap();
        assert_eq!(reading.warnings, []);
        assert!(reading.facts == facts);
    }
}
