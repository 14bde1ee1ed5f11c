//! The usage rows: which there are, what the sheet says in them and what was learned.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{Condition, Snapshot, VehicleSize, Word};
use capful_forecast::{Plan, Usage};
use support::*;

const SOAP: (&str, &str) = ("wash", "soap");

fn shapes(plan: &Plan, pair: (&str, &str)) -> Vec<(&'static str, u8)> {
    let own = plan.usage.iter().filter(|row| (&*row.job_type, &*row.product) == pair);
    own.map(|row| (row.size, row.condition)).collect()
}

#[test]
fn each_pair_has_a_row_for_each_size_and_for_each_condition() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "20 mL");
    let plan = shop.plan();
    let mut expected: Vec<(&str, u8)> =
        ["small", "medium", "large", "oversize"].map(|size| (size, 3)).to_vec();
    expected.extend([1, 2, 4, 5].map(|grade| ("medium", grade)));
    assert_eq!(shapes(&plan, SOAP), expected);
    assert_eq!(shapes(&plan, ("wash", "wax")), expected);
    assert_eq!(plan.usage.len(), 16);
}

#[test]
fn any_size_and_condition_can_be_asked_for() {
    let mut shop = TestShop::with_soap();
    let job = shop.done("wash", "2026-02-10");
    shop.pour("2026-02-10T10:00", "soap", "130 mL").job = Some(job);
    let plan = shop.plan();
    let learned = Usage::learn(&Snapshot::of(&shop.facts, shop.at(NOW)));
    for row in &plan.usage {
        let size = VehicleSize::from_word(row.size).unwrap();
        let rows = learned.rows_at(size, Condition::new(row.condition).unwrap());
        assert_eq!(rows, std::slice::from_ref(row));
    }
    // Large and condition 5 by the shop's factors: 100 mL, a quarter more, and 1.6 times that.
    let nothing = Usage::learn(&Snapshot::of(&TestShop::with_soap().facts, shop.at(NOW)));
    let rows = nothing.rows_at(VehicleSize::Large, Condition::new(5).unwrap());
    assert_eq!((rows[0].sheet, rows[0].mean), (200.0, 200.0));
}

#[test]
fn where_nothing_was_learned_the_mean_is_the_sheet_s() {
    let mut shop = TestShop::with_soap();
    shop.facts.usage_sheet[0].share_of_jobs = Some(dec("0.5"));
    let plan = shop.plan();
    // 100 mL in every other job: 50, times the shop's factors of size and condition.
    let sheets =
        [("small", 3, 40.0), ("medium", 3, 50.0), ("large", 3, 62.5), ("oversize", 3, 75.0)];
    let grades =
        [("medium", 1, 35.0), ("medium", 2, 42.5), ("medium", 4, 62.5), ("medium", 5, 80.0)];
    for (size, grade, sheet) in sheets.into_iter().chain(grades) {
        let row = usage(&plan, SOAP, size, grade);
        assert_eq!((row.sheet, row.mean), (sheet, sheet), "{row:?}");
        assert_eq!((row.share_of_jobs, row.jobs_seen), (0.5, 0));
        // Jobs that take none are in the spread: at least √(0.5 × 0.5) of 100.
        assert!(row.sd >= sheet, "{row:?}");
    }
}

#[test]
fn a_sheet_in_other_units_and_cut_with_water_is_shown_as_product_in_its_unit() {
    let mut shop = TestShop::new();
    shop.product("sealant", "1 gal");
    shop.job_type("wash");
    shop.sheet("wash", "sealant", "64 fl oz").ratio = Some(ratio("3:1"));
    // Half a gallon of the mix, a quarter of it product.
    assert_eq!(usage(&shop.plan(), ("wash", "sealant"), "medium", 3).sheet, 0.125);
}

#[test]
fn measured_jobs_move_the_mean_from_the_sheet_and_narrow_the_doubt() {
    let mut shop = TestShop::busy(); // 39 washes, 95 and 105 mL in turn
    shop.facts.usage_sheet[0].amount = amount("160 mL");
    shop.facts.usage_sheet[0].log_sd = None;
    let plan = shop.plan();
    let row = usage(&plan, SOAP, "medium", 3);
    assert_eq!((row.sheet, row.jobs_seen), (160.0, 39));
    assert!((95.0..108.0).contains(&row.mean), "{row:?}");
    assert!(row.mean_p90 / row.mean_p10 < 1.25, "{row:?}");
    let mut untaught = TestShop::with_soap();
    untaught.facts.usage_sheet[0].log_sd = None;
    let plan = untaught.plan();
    let row = usage(&plan, SOAP, "medium", 3);
    assert!(row.mean_p90 / row.mean_p10 > 2.5, "{row:?}"); // exp(2 × 1.28 × 0.5) = 3.6
}

#[test]
fn counts_alone_teach_as_well() {
    let mut shop = TestShop::with_soap();
    shop.facts.usage_sheet[0].log_sd = Some(dec("0.5"));
    shop.receipt("2025-12-01T07:00", "soap", 6);
    let mut left = 6000;
    for week in 0..12_u64 {
        // Four washes a week, 150 mL each; counted on Saturdays.
        let monday = day("2025-12-01") + chrono::Days::new(7 * week);
        for ahead in 0..4 {
            shop.done("wash", &(monday + chrono::Days::new(ahead)).to_string());
        }
        left -= 600;
        if left < 0 {
            break;
        }
        let saturday = monday + chrono::Days::new(5);
        shop.count(&saturday.to_string(), "soap", &format!("{left} mL"));
    }
    let plan = shop.plan();
    let row = usage(&plan, SOAP, "medium", 3);
    assert!((135.0..158.0).contains(&row.mean), "{row:?}");
    assert!(row.jobs_seen >= 36, "{row:?}");
}

/// Washes take 300 mL of a 1 L bottle: the fourth finds 100 mL, and a count says that it was the
/// last. What it would have taken is not on the shelf's account.
#[test]
fn a_job_that_ran_short_teaches_nobody_to_take_less() {
    let mut shop = TestShop::with_soap();
    shop.facts.usage_sheet[0].amount.number = dec("300");
    shop.facts.usage_sheet[0].log_sd = Some(dec("0.5"));
    for week in 0..10_u64 {
        let monday = day("2025-12-01") + chrono::Days::new(7 * week);
        shop.receipt(&format!("{monday}T07:00"), "soap", 1);
        for ahead in 0..4 {
            shop.done("wash", &(monday + chrono::Days::new(ahead)).to_string());
        }
        let thursday = monday + chrono::Days::new(3);
        shop.count(&thursday.to_string(), "soap", "0 mL");
    }
    let plan = shop.plan();
    let row = usage(&plan, SOAP, "medium", 3);
    // A litre in four jobs would be 250 each.
    assert!((270.0..340.0).contains(&row.mean), "{row:?}");
}

#[test]
fn a_pair_that_only_pours_have_shown_has_rows_without_a_sheet() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    for (on, poured) in [("2026-02-23", "18 mL"), ("2026-02-24", "22 mL"), ("2026-02-25", "20 mL")]
    {
        let job = shop.done("wash", on);
        shop.pour(&format!("{on}T11:00"), "wax", poured).job = Some(job);
    }
    let plan = shop.plan();
    assert_eq!(shapes(&plan, ("wash", "wax")).len(), 8);
    let row = usage(&plan, ("wash", "wax"), "medium", 3);
    assert_eq!((row.sheet, row.jobs_seen), (0.0, 3));
    assert!((14.0..24.0).contains(&row.mean), "{row:?}");
}

#[test]
fn a_sheet_that_says_nothing_has_rows_and_is_corrected_by_pours() {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "500 mL");
    shop.sheet("wash", "wax", "0 mL");
    let plan = shop.plan();
    assert_eq!(shapes(&plan, ("wash", "wax")).len(), 8);
    let row = usage(&plan, ("wash", "wax"), "large", 3);
    assert_eq!((row.mean, row.sd, row.sheet, row.mean_p90), (0.0, 0.0, 0.0, 0.0));
    for on in ["2026-02-23", "2026-02-24", "2026-02-25"] {
        let job = shop.done("wash", on);
        shop.pour(&format!("{on}T11:00"), "wax", "20 mL").job = Some(job);
    }
    let plan = shop.plan();
    assert_eq!(shapes(&plan, ("wash", "wax")).len(), 8);
    let row = usage(&plan, ("wash", "wax"), "medium", 3);
    assert!((14.0..24.0).contains(&row.mean) && row.sheet == 0.0, "{row:?}");
}

#[test]
fn measured_zeros_lower_the_share_of_jobs_and_not_what_the_others_take() {
    let mut shop = TestShop::busy(); // the sheet says: every job
    let before = shop.plan();
    assert_eq!(usage(&before, SOAP, "medium", 3).share_of_jobs, 1.0);
    for pour in shop.facts.pours.iter_mut().step_by(3) {
        pour.amount = amount("0 mL"); // 13 of 39
    }
    let after = shop.plan();
    let row = usage(&after, SOAP, "medium", 3);
    assert!((0.6..0.8).contains(&row.share_of_jobs), "{row:?}");
    // About two thirds of 100; those that take it, still 100.
    assert!((94.0..106.0).contains(&(row.mean / row.share_of_jobs)), "{row:?}");
    assert_eq!(row.jobs_seen, 39);
}

#[test]
fn a_slip_of_the_keyboard_hardly_moves_the_mean_and_is_asked_about() {
    let mut shop = TestShop::busy();
    let before = usage(&shop.plan(), SOAP, "medium", 3).mean;
    let last = shop.facts.pours.last_mut().unwrap();
    last.amount = amount("950 mL"); // a nought too many
    let plan = shop.plan();
    let after = usage(&plan, SOAP, "medium", 3).mean;
    assert!((after / before - 1.0).abs() < 0.08, "{before} then {after}");
    let text = warned(&plan, "odd-record").unwrap();
    assert!(text.contains("950 mL") && text.contains("27 February"), "{text}");
}

/// [`TestShop::with_soap`] after so many washes, of which every `measured`th has its soap measured;
/// the `waxed` ones have 75 mL of wax poured, which is on no sheet.
fn washes(count: u64, measured: u64, waxed: impl Fn(u64) -> bool) -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.product("wax", "5000 mL");
    shop.receipt("2024-12-01T07:00", "wax", 20);
    for wash in 0..count {
        let on = (day("2026-03-01") - chrono::Days::new(count - wash)).to_string();
        let job = shop.done("wash", &on);
        if wash % measured == 0 {
            shop.pour(&format!("{on}T11:00"), "soap", "100 mL").job = Some(job.clone());
        }
        if waxed(wash) {
            shop.pour(&format!("{on}T11:30"), "wax", "75 mL").job = Some(job);
        }
    }
    shop
}

#[test]
fn one_odd_pour_in_three_hundred_jobs_is_no_habit() {
    for measured in [1, 2, 10, 400] {
        let plan = washes(304, measured, |wash| wash == 303).plan();
        let row = usage(&plan, ("wash", "wax"), "medium", 3);
        assert!(row.share_of_jobs < 0.01, "{measured}: {row:?}"); // 1 of 304 is 0.0033
        assert!(row.mean < 0.75, "{measured}: {row:?}");
    }
    // Nor in the middle of them, and counts that agree do not make it one.
    let mut shop = washes(304, 2, |wash| wash == 150);
    shop.count("2025-06-01", "wax", "100000 mL");
    shop.count("2026-02-28T20:00", "wax", "99925 mL");
    let plan = shop.plan();
    let row = usage(&plan, ("wash", "wax"), "medium", 3);
    assert!(row.share_of_jobs < 0.01, "{row:?}");
}

#[test]
fn what_is_on_no_sheet_and_used_time_and_again_is_learned_as_often_as_it_is() {
    // In three of ten jobs, whether all jobs are measured or every other.
    for measured in [1, 2] {
        let plan = washes(200, measured, |wash| wash % measured == 0 && wash / measured % 10 < 3);
        let plan = plan.plan();
        let row = usage(&plan, ("wash", "wax"), "medium", 3);
        assert!((0.22..0.38).contains(&row.share_of_jobs), "{measured}: {row:?}");
    }
    // A new habit after three hundred washes without.
    let plan = washes(324, 2, |wash| wash >= 304).plan();
    let row = usage(&plan, ("wash", "wax"), "medium", 3);
    assert!(row.share_of_jobs > 0.6, "{row:?}");
}
