//! The backtest on shops so small that its figures can be worked out on paper, and what holds of
//! every backtest: nothing foretold for a week knows what came after its morning.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::facts::DiscardReason;
use capful_domain::{ContainerId, JobStatus};
use capful_forecast::backtest::{
    Backtest, BacktestSettings, ForetoldSpan, MethodScore, SpanScore, Week, backtest,
};
use chrono::{DateTime, Duration, Utc};
use proptest::prelude::*;
use std::sync::Mutex;
use support::*;

/// Thirteen weeks of three washes (Monday, Wednesday, Friday, done at noon) from 1 December 2025:
/// the first of those weeks whose morning has eight weeks before it is that of 26 January.
const WEEKS: [&str; 5] = ["2026-01-26", "2026-02-02", "2026-02-09", "2026-02-16", "2026-02-23"];

fn run(shop: &TestShop) -> Backtest {
    run_at(shop, "2026-03-02T00:00")
}

fn run_at(shop: &TestShop, when: &str) -> Backtest {
    let settings = BacktestSettings { plan: shop.settings(), ..BacktestSettings::default() };
    backtest(&shop.facts, shop.at(when), &settings, shop.seed, &|_, _| {}).unwrap()
}

/// The washes of [`WEEKS`] and the eight weeks before, 95 mL and 105 mL in turn, so that every
/// second week takes 295 mL and the others 305 mL. `measured`: each is poured by measure.
fn washes(shop: &mut TestShop, measured: bool) {
    let mut date = day("2025-12-01");
    for visit in 0..39 {
        let job = shop.done("wash", &date.to_string());
        if measured {
            let poured = if visit % 2 == 0 { "95 mL" } else { "105 mL" };
            shop.pour(&format!("{date}T11:00"), "soap", poured).job = Some(job);
        }
        date = date + chrono::Days::new(if visit % 3 == 2 { 3 } else { 2 });
    }
}

fn measured() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.receipt("2025-11-28", "soap", 20);
    washes(&mut shop, true);
    shop.futures = 100;
    shop
}

fn span(week: &Week, days: u32) -> &ForetoldSpan {
    week.products[0].spans.iter().find(|span| span.days == days).unwrap()
}

fn took(week: &Week, days: u32) -> Option<(f64, f64, &str)> {
    span(week, days).took.map(|took| (took.amount, took.known_share, took.yardstick))
}

fn score(told: &Backtest, days: u32) -> &SpanScore {
    told.spans.iter().find(|score| score.days == days).unwrap()
}

fn method<'a>(score: &'a SpanScore, name: &str) -> &'a MethodScore {
    score.methods.iter().find(|own| own.method == name).unwrap()
}

#[test]
fn each_order_day_with_a_whole_week_behind_it_is_replayed() {
    let told = run(&measured());
    let days: Vec<String> = told.weeks.iter().map(|week| week.day.to_string()).collect();
    assert_eq!(days, WEEKS);
    assert_eq!((told.from, told.to), (day(WEEKS[0]), day("2026-03-02")));
    // A day earlier the last week is not over.
    assert_eq!(run_at(&measured(), "2026-03-01T23:59").weeks.len(), 4);
    let mut shop = measured();
    let settings = BacktestSettings { weeks: 2, plan: shop.settings() };
    let last = backtest(&shop.facts, shop.at(NOW), &settings, 1, &|_, _| {}).unwrap();
    assert_eq!(
        last.weeks.iter().map(|w| w.day).collect::<Vec<_>>(),
        [day(WEEKS[3]), day(WEEKS[4])]
    );
    shop.facts.jobs.clear();
    let error = backtest(&shop.facts, shop.at(NOW), &settings, 1, &|_, _| {}).unwrap_err();
    assert!(error.to_string().ends_with("no job is done yet"), "{error}");
}

#[test]
fn what_was_measured_is_known_to_the_drop() {
    let told = run(&measured());
    let taken: Vec<f64> = told.weeks.iter().map(|week| took(week, 7).unwrap().0).collect();
    assert_eq!(taken, [295.0, 305.0, 295.0, 305.0, 295.0]);
    assert_eq!(took(&told.weeks[0], 14), Some((600.0, 1.0, "known")));
    assert_eq!(took(&told.weeks[1], 28), Some((1200.0, 1.0, "known")));
    // The four weeks after 9 February are not over.
    assert_eq!(took(&told.weeks[2], 28), None);
}

/// The sheet says 100 mL a wash, and twelve washes in four weeks: 300 mL a week, 5 mL off each
/// time; of 1495 mL that is 25. Eight weeks on average are 300 mL as well.
#[test]
fn the_errors_of_the_sheet_and_of_an_average_by_hand() {
    let told = run(&measured());
    let week = score(&told, 7);
    assert_eq!((week.yardstick, week.cases), ("known", 5));
    for name in ["sheet", "moving-average"] {
        let own = method(week, name);
        assert_eq!((own.error, own.bias), (0.0167, 0.0033), "{name}");
        assert_eq!(method(score(&told, 14), name).error, 0.0, "{name}");
    }
    // Foretold exactly over two weeks, ever: nothing lost at any quantile.
    assert_eq!(method(score(&told, 14), "sheet").pinball, 0.0);
    for week in &told.weeks {
        let sheet = span(week, 7).baselines[0];
        assert_eq!((sheet.method, sheet.mean, sheet.sd), ("sheet", 300.0, 5.0));
    }
    // An exponential level that begins at 295 and moves by a fifth: after 295, 305, … eight weeks.
    let mut level = 295.0;
    for seen in [305.0, 295.0, 305.0, 295.0, 305.0, 295.0, 305.0] {
        level += 0.2 * (seen - level);
    }
    let smoothing = span(&told.weeks[0], 7).baselines[3];
    assert_eq!(smoothing.method, "smoothing");
    assert!((smoothing.mean - level).abs() < 0.001, "{smoothing:?} {level}");
}

#[test]
fn the_plan_foretells_what_it_would_have_on_that_morning() {
    let mut shop = measured();
    shop.booked("wash", "2026-02-18").booked_at = shop.at("2026-02-13T10:00");
    let told = run(&shop);
    for week in &told.weeks {
        let plan = shop.plan_at(&format!("{}T00:00", week.day));
        assert_eq!(span(week, 14).demand, outlook(&plan, "soap").demand);
        assert_eq!(span(week, 7).demand, outlook(&plan, "soap").demand_ahead[0]);
    }
}

/// Nothing is measured, and the shelf is counted each Sunday evening. What is missing since the
/// Sunday before is what the three jobs between took, whatever the sheet says.
#[test]
fn what_went_between_two_counts_is_known_as_well() {
    let mut shop = TestShop::with_soap();
    shop.futures = 100;
    shop.receipt("2025-11-28", "soap", 20);
    washes(&mut shop, false);
    let mut left = 20_000;
    shop.count("2025-11-30T20:00", "soap", "20000 mL");
    for week in 0..13 {
        left -= if week % 2 == 0 { 270 } else { 390 };
        let sunday = day("2025-12-07") + chrono::Days::new(7 * week);
        shop.count(&format!("{sunday}T20:00"), "soap", &format!("{left} mL"));
    }
    let told = run(&shop);
    assert_eq!(took(&told.weeks[0], 7), Some((270.0, 1.0, "known")));
    assert_eq!(took(&told.weeks[1], 7), Some((390.0, 1.0, "known")));
    assert_eq!(took(&told.weeks[0], 28), Some((1320.0, 1.0, "known")));
    // 100 mL were poured away and it was said so: no job took them.
    let spilled = shop.discard("2026-01-28", "soap");
    (spilled.amount, spilled.reason) = (Some(amount("100 mL")), Some(DiscardReason::Spilled));
    assert_eq!(took(&run(&shop).weeks[0], 7), Some((170.0, 1.0, "known")));
}

/// Counted on Wednesday evenings, a span from Monday to Sunday has no whole stretch between two
/// counts; four weeks have three, of nine jobs in twelve.
#[test]
fn what_straddles_the_ends_of_a_span_is_estimated() {
    let mut shop = TestShop::with_soap();
    shop.futures = 100;
    shop.receipt("2025-11-28", "soap", 20);
    washes(&mut shop, false);
    let mut left = 20_000;
    shop.count("2025-11-26T20:00", "soap", "0 mL");
    shop.count("2025-12-03T20:00", "soap", "19800 mL");
    left -= 200;
    for week in 1..13 {
        left -= 300;
        let wednesday = day("2025-12-03") + chrono::Days::new(7 * week);
        shop.count(&format!("{wednesday}T20:00"), "soap", &format!("{left} mL"));
    }
    let told = run(&shop);
    assert_eq!(took(&told.weeks[0], 7), Some((300.0, 0.0, "estimated")));
    assert_eq!(took(&told.weeks[0], 28), Some((1200.0, 0.75, "estimated")));
    assert!(told.spans.iter().all(|score| score.yardstick == "estimated"), "{:?}", told.spans);
}

/// A shop that nobody sells to: 500 mL are left on 26 January in a bottle of 2900 mL that cost
/// 20.00. Washes of 95, 105, 95, 105 and 95 mL leave 5 mL; the tenth and all after it stall.
fn bare() -> TestShop {
    let mut shop = TestShop::with_soap();
    shop.futures = 100;
    shop.facts.offers.clear();
    shop.facts.shop.holding_rate = dec("36.5");
    shop.receipt("2025-11-28", "soap", 1).container_size = Some(dec("2900"));
    washes(&mut shop, true);
    // What the shop itself bought when it ran out.
    let own = shop.receipt("2026-02-06T09:00", "soap", 2);
    own.supplier = Some(id("north"));
    shop
}

#[test]
fn a_list_that_can_order_nothing_lets_jobs_stall() {
    let followed = run(&bare()).followed;
    assert_eq!((followed.weeks, followed.list.orders), (5, 0));
    assert_eq!(followed.list.stalled_jobs, Some(10));
    assert_eq!(followed.list.stalls, Some(dec("1500.00")));
    let first = &followed.stalled[0];
    assert_eq!((first.on, first.missing.amount), (day("2026-02-06"), 100.0));
    // A tenth of its value a day: 500 mL until Monday noon, 405 mL until Wednesday noon, and so on:
    // 250 + 810 + 600 + 615 + 200 + 10 = 2485 mL·days at 20.00 for 2900 mL.
    assert_eq!(followed.list.holding, dec("1.71"));
    assert_eq!(followed.list.stock_at_end, dec("0.00"));
    assert_eq!(followed.list.avoidable, dec("1501.71"));
}

#[test]
fn what_the_shop_did_is_what_it_wrote_down() {
    let followed = run(&bare()).followed;
    let shop = &followed.shop;
    // No orders are written down: what came on one day from one supplier was one.
    assert_eq!((shop.orders, shop.goods, shop.freight), (1, dec("40.00"), dec("8.00")));
    assert_eq!((shop.stalled_jobs, shop.stalls), (None, None));
    assert_eq!(shop.avoidable, shop.freight + shop.waste + shop.holding);
}

/// A sealed bottle of 20.00 that is good until 1 February is nobody's but the list's to throw away
/// on the 2nd; the shop says that it did so on the 3rd. One that was past before the first morning
/// is nobody's waste.
#[test]
fn what_goes_off_is_thrown_away_the_day_after() {
    let mut shop = bare();
    shop.receipt("2026-01-20", "soap", 1).best_before = Some(day("2026-02-01"));
    assert_eq!(run(&shop).followed.list.waste, dec("20.00"));
    assert_eq!(run(&shop).followed.shop.waste, dec("0.00"));
    let thrown = shop.discard("2026-02-03", "soap");
    thrown.reason = Some(DiscardReason::Expired);
    thrown.container = Some(ContainerId::parse("r3/1").unwrap());
    assert_eq!(run(&shop).followed.shop.waste, dec("20.00"));
    shop.facts.receipts.last_mut().unwrap().best_before = Some(day("2026-01-25"));
    let followed = run(&shop).followed;
    assert_eq!((followed.list.waste, followed.shop.waste), (dec("0.00"), dec("0.00")));
}

/// The shelf is bare on 26 January: the list orders at once. The supplier says three days; the
/// shop's own order of January took eight.
#[test]
fn orders_of_the_list_come_as_the_shops_own_did() {
    let mut shop = TestShop::with_soap();
    shop.futures = 100;
    shop.receipt("2025-11-28", "soap", 1).container_size = Some(dec("2400"));
    washes(&mut shop, true);
    let order = shop.order("2026-01-20", "north", "soap", 3);
    let came = shop.receipt("2026-01-28T08:00", "soap", 3);
    (came.order, came.supplier) = (Some(order), Some(id("north")));
    let followed = run(&shop).followed;
    let first = &followed.orders[0];
    assert_eq!((first.placed_on - day(WEEKS[0])).num_days() % 7, 0);
    assert_eq!((first.arrives_on - first.placed_on).num_days(), 8);
    let list = &followed.list;
    assert_eq!(list.orders as usize, followed.orders.len());
    assert_eq!(list.freight, dec("8.00") * rust_decimal::Decimal::from(list.orders));
    // What was on its way on the first morning (60.00) comes all the same, when it came.
    let within =
        |order: &&capful_forecast::backtest::FollowedOrder| order.arrives_on < day("2026-03-02");
    let bought: rust_decimal::Decimal =
        followed.orders.iter().filter(within).map(|order| order.goods).sum();
    assert_eq!(list.goods, bought + dec("60.00"));
    // Monday's wash (week nine begins with nothing left) stalls before anything can come.
    assert_eq!(followed.stalled[0].on, day(WEEKS[0]));
}

/// What comes in and does not go off or to a job is there at the end: 0.02 a millilitre.
#[test]
fn nothing_is_lost_on_the_way() {
    let mut shop = TestShop::with_soap();
    shop.futures = 100;
    shop.receipt("2025-11-28", "soap", 5);
    washes(&mut shop, true);
    let followed = run(&shop).followed;
    let list = &followed.list;
    assert_eq!((list.stalled_jobs, list.waste), (Some(0), dec("0.00")));
    // 2600 mL stood on the first morning, and 1495 mL were taken.
    let left = dec("52.00") + list.goods - dec("29.90");
    assert_eq!(list.stock_at_end, left);
}

#[test]
fn progress_comes_to_its_end() {
    let told = Mutex::new(Vec::new());
    let shop = measured();
    let settings = BacktestSettings { plan: shop.settings(), ..BacktestSettings::default() };
    let note = |done, of| told.lock().unwrap().push((done, of));
    let _ = backtest(&shop.facts, shop.at(NOW), &settings, 1, &note).unwrap();
    let mut told = told.into_inner().unwrap();
    told.sort_unstable();
    assert_eq!(told, (0..=10).map(|done| (done, 10)).collect::<Vec<_>>());
}

/// A shop with something of everything all the while.
fn lively() -> TestShop {
    let mut shop = measured();
    shop.futures = 50;
    shop.product("wax", "100 mL").open_days = Some(30);
    shop.sheet("wash", "wax", "12 mL");
    shop.offer("north", "wax", 1500);
    for month in ["2025-12", "2026-01", "2026-02"] {
        shop.receipt(&format!("{month}-10"), "wax", 3).best_before = Some(day("2026-08-01"));
        shop.open(&format!("{month}-12"), "wax");
        shop.count(&format!("{month}-20"), "wax", "150 mL");
        shop.count(&format!("{month}-20"), "soap", "9 L");
        shop.order(&format!("{month}-05"), "north", "wax", 3);
        shop.mix(&format!("{month}-06"), "soap", "300 mL", "5:1");
        shop.discard(&format!("{month}-25"), "wax").amount = Some(amount("10 mL"));
        shop.booked("wash", &format!("{month}-26"));
    }
    shop
}

/// Everything that happens after a moment happens otherwise, or not at all.
fn scramble(shop: &mut TestShop, after: DateTime<Utc>, how: u8) {
    let later = |at: DateTime<Utc>| at > after;
    let facts = &mut shop.facts;
    let moved = Duration::minutes(i64::from(how) * 37);
    let as_of_day = facts.shop.day_of(after);
    for job in &mut facts.jobs {
        let ends = job.finished_at.unwrap_or(job.booked_at);
        if later(job.booked_at) {
            job.planned_on = as_of_day + chrono::Days::new(u64::from(how) + 1);
            job.booked_at += moved;
        }
        if !later(ends) {
            continue;
        }
        if how.is_multiple_of(2) {
            (job.status, job.finished_at) = (JobStatus::Cancelled, None);
            (job.started_at, job.cancelled_at) = (None, Some(after + moved + Duration::hours(1)));
        } else {
            (job.started_at, job.finished_at) = (Some(ends + moved), Some(ends + moved));
        }
    }
    facts.pours.retain(|row| !later(row.at) || how.is_multiple_of(3));
    for pour in facts.pours.iter_mut().filter(|row| later(row.at)) {
        pour.amount = amount("730 mL");
    }
    for receipt in facts.receipts.iter_mut().filter(|row| later(row.at)) {
        receipt.containers += u32::from(how);
    }
    facts.counts.retain(|row| !later(row.at));
    facts.openings.retain(|row| !later(row.at));
    facts.discards.retain(|row| !later(row.at));
    facts.mixes.retain(|row| !later(row.at));
    for order in facts.orders.iter_mut().filter(|row| later(row.placed_at)) {
        order.placed_at += moved;
    }
    let ends = after + Duration::days(2) + moved;
    for product in ["soap", "wax"] {
        let seen = format!("{} mL", 100 * u32::from(how) + 7);
        shop.count(NOW, product, &seen).at = ends;
    }
}

/// What was foretold, without what it is held against.
fn foretold(weeks: &[Week]) -> Vec<Week> {
    let mut weeks = weeks.to_vec();
    for span in weeks.iter_mut().flat_map(|w| &mut w.products).flat_map(|p| &mut p.spans) {
        span.took = None;
    }
    weeks
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 12,
        failure_persistence: None,
        ..Default::default()
    })]

    #[test]
    fn what_comes_after_a_week_is_not_in_what_it_foretells(week in 0..5_usize, how in 1..40_u8) {
        let shop = lively();
        let before = run(&shop);
        let mut other = shop.clone();
        scramble(&mut other, shop.at(&format!("{}T00:00", WEEKS[week])), how);
        let after = run(&other);
        let until = |told: &Backtest| foretold(&told.weeks[..=week]);
        prop_assert_eq!(until(&before), until(&after));
        prop_assert_ne!(&before.weeks[week], &after.weeks[week], "nothing was scrambled");
    }
}

#[test]
fn the_same_question_gets_the_same_answer() {
    let shop = lively();
    assert_eq!(run(&shop), run(&shop));
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(alone.install(|| run(&shop)), run(&shop));
}
