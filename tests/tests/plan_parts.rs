//! Every number that a plan gives a reason for can be opened into parts that add up to it.

#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod support;

use capful_domain::{ContainerId, Snapshot};
use capful_forecast::{PlanSettings, plan};
use chrono::Days;
use proptest::prelude::*;
use support::*;

// ---- what the parts are

#[test]
fn a_line_is_made_of_its_jobs_its_delivery_and_the_packs() {
    let shop = TestShop::busy_with("150 mL");
    let plan = shop.plan();
    let parts = &line(&plan, "soap").unwrap().parts;
    // Ordered today, the next order today week: it is there three days after that.
    assert_eq!((parts.to, parts.late_to >= parts.to), (day("2026-03-12"), true));
    // Three washes of 100 mL are booked for this week, and one comes each other day.
    assert_eq!(parts.booked_jobs, 3);
    assert!((280.0..310.0).contains(&parts.booked.amount), "{parts:?}");
    assert_eq!((parts.on_hand.amount, parts.on_order.amount), (150.0, 0.0));
    assert_eq!(parts.goes_off.amount, 0.0);
    let outlook = outlook(&plan, "soap");
    assert_eq!(parts.reorder_point, outlook.reorder_point);
    assert_eq!(parts.order_up_to, outlook.order_up_to);
    let packs = f64::from(line(&plan, "soap").unwrap().packs);
    assert_eq!(parts.bought.amount, 1000.0 * packs);
}

#[test]
fn the_delivery_s_being_late_is_a_part_of_its_own() {
    let lead_time = |sd: &str| {
        let mut shop = TestShop::busy_with("150 mL");
        shop.facts.suppliers[0].lead_days = dec("9");
        shop.facts.suppliers[0].lead_days_sd = Some(dec(sd));
        line(&shop.plan(), "soap").unwrap().parts.lead_time.amount
    };
    let (sure, unsure) = (lead_time("0.1"), lead_time("5"));
    // 5 days at three jobs of 100 mL a week are 214 mL.
    assert!(sure < 40.0 && unsure > sure + 60.0, "{sure} {unsure}");
}

#[test]
fn what_goes_off_is_bought_anew() {
    let mut shop = TestShop::busy_with("900 mL");
    shop.soap().open_days = Some(4); // opened on 28 February: good up to 4 March
    let bottle = ContainerId::parse("r2/1").unwrap();
    shop.open("2026-02-28T15:30", "soap").container = Some(bottle);
    let plan = shop.plan();
    let parts = &line(&plan, "soap").unwrap().parts;
    // Two washes of 100 mL take of it before it is over, and hardly another.
    assert!((560.0..740.0).contains(&parts.goes_off.amount), "{parts:?}");
    let friday = plan.readiness.iter().find(|row| row.planned_on == day("2026-03-06")).unwrap();
    let parts = &friday.short_of[0].parts;
    assert!((560.0..740.0).contains(&parts.goes_off.amount), "{parts:?}");
    assert!(parts.left.amount < -80.0, "{parts:?}");
}

#[test]
fn a_lack_is_made_of_the_shelf_and_of_the_jobs_before() {
    let mut shop = TestShop::busy();
    shop.on_shelf("150 mL");
    let jobs = ["2026-03-02", "2026-03-02"].map(|date| shop.booked("wash", date).id.clone());
    let plan = shop.plan();
    let short = &readiness(&plan, &jobs[1]).short_of[0];
    let parts = &short.parts;
    assert_eq!((parts.on_hand.amount, parts.booked_jobs), (150.0, 1));
    assert!(parts.books_off.amount.abs() < 0.5, "counted to the drop: {parts:?}");
    assert!((95.0..105.0).contains(&parts.booked.amount), "{parts:?}");
    assert!((95.0..105.0).contains(&parts.takes.amount), "{parts:?}");
    // 150 − 100 − 100.
    assert!((-60.0..-40.0).contains(&parts.left.amount), "{parts:?}");
    assert!(parts.least.amount < parts.left.amount - 10.0, "{parts:?}");
    assert!(parts.coming.is_empty());
}

#[test]
fn what_is_on_its_way_counts_as_often_as_it_is_in_time() {
    let mut shop = TestShop::busy();
    shop.on_shelf("10 mL");
    shop.facts.suppliers[0].lead_days_sd = Some(dec("1.5"));
    let job = shop.booked("wash", "2026-03-04").id.clone();
    let order = shop.order("2026-03-01", "north", "soap", 2);
    let plan = shop.plan();
    let row = readiness(&plan, &job);
    let coming = &row.short_of[0].parts.coming[0];
    assert_eq!((coming.order.as_str(), coming.holds.amount), (order.as_str(), 2000.0));
    // Three days are its usual lead, and the job is on the third.
    assert!((0.4..0.8).contains(&coming.chance), "{coming:?}");
    // Without the order there is nothing, with it there is plenty.
    assert!((row.ready_chance - coming.chance).abs() < 0.03, "{row:?}");
}

#[test]
fn what_stands_mixed_at_another_ratio_is_not_for_the_job() {
    let mut shop = TestShop::busy();
    shop.on_shelf("120 mL");
    shop.mix("2026-03-01T10:00", "soap", "300 mL", "2:1"); // 100 of product
    let job = shop.booked("wash", "2026-03-02").id.clone();
    let plan = shop.plan();
    let parts = &readiness(&plan, &job).short_of[0].parts;
    assert_eq!((parts.on_hand.amount, parts.other_ratio.amount), (120.0, 100.0));
    assert!((-90.0..-70.0).contains(&parts.left.amount), "{parts:?}");
}

#[test]
fn what_is_lacking_at_once_counts_in_equal_parts() {
    let mut shop = TestShop::busy();
    shop.product("coat", "50 mL");
    shop.sheet("wash", "coat", "30 mL");
    let job = shop.booked("wash", "2026-03-02").id.clone();
    let plan = shop.plan();
    let row = readiness(&plan, &job);
    assert_eq!(row.ready_chance, 0.0);
    let shares: Vec<f64> = row.short_of.iter().map(|short| short.not_ready).collect();
    assert_eq!(shares, [0.5, 0.5]);
    // What another product serves for keeps no job from being ready.
    shop.facts.products[1].substitutes = vec![id("glaze")];
    shop.product("glaze", "500 mL");
    shop.receipt("2026-03-01", "glaze", 1);
    let plan = shop.plan();
    let row = readiness(&plan, &job);
    let of = |product: &str| row.short_of.iter().find(|s| s.product == product).unwrap();
    assert_eq!((of("soap").not_ready, of("coat").not_ready), (1.0, 0.0));
}

// ---- that they add up

#[test]
fn every_part_of_the_demo_shop_s_plan_adds_up() {
    let (mut lines, mut lacks) = (0, 0);
    for (today, seed) in [("2026-03-02", 1), ("2026-05-11", 2), ("2025-11-03", 3)] {
        let facts = capful_demo::demo_shop(day(today), seed);
        for days in [0, 3] {
            let now = facts.shop.start_of(day(today) - Days::new(days));
            let plan = plan(&Snapshot::of(&facts, now), &PlanSettings { futures: 100 }, seed);
            check(&facts, &plan);
            lines += plan.weekly_order.orders.iter().map(|order| order.lines.len()).sum::<usize>();
            lacks += plan.readiness.iter().map(|row| row.short_of.len()).sum::<usize>();
        }
    }
    assert!(lines > 30 && lacks > 30, "{lines} lines, {lacks} lacks");
}

/// A shop of three products and two services that somebody keeps as they please.
fn any_shop() -> impl Strategy<Value = TestShop> {
    let level = (0..1500_u32, any::<bool>());
    let levels = proptest::collection::vec(level, 3);
    let jobs = proptest::collection::vec((0..20_u64, 0..3_usize), 0..8);
    let orders = proptest::collection::vec((0..9_u64, 0..3_usize, 1..3_u32), 0..4);
    (levels, jobs, orders, 1..12_u32, 0..3_usize, any::<u8>()).prop_map(
        |(levels, jobs, orders, lead, open, seed)| {
            let mut shop = TestShop::busy();
            let products = ["soap", "wax", "coat"];
            shop.product("wax", "500 mL");
            shop.product("coat", "50 mL").substitutes = vec![id("wax")];
            shop.job_type("finish");
            shop.sheet("wash", "wax", "12 mL").share_of_jobs = Some(dec("0.6"));
            shop.sheet("finish", "coat", "30 mL");
            shop.sheet("finish", "soap", "600 mL").ratio = Some(ratio("5:1"));
            shop.offer("north", "wax", 1800);
            shop.offer("north", "coat", 6500);
            shop.facts.suppliers[0].lead_days = dec(&lead.to_string());
            shop.facts.suppliers[0].lead_days_sd = Some(dec("2"));
            shop.facts.products[open].open_days = Some(9);
            for (product, (level, is_counted)) in products.iter().zip(levels) {
                shop.receipt("2026-02-20", product, 3);
                if is_counted {
                    shop.count("2026-02-26", product, &format!("{level} mL"));
                }
            }
            shop.open("2026-02-26T15:00", products[open]);
            shop.mix("2026-02-27T10:00", "soap", "300 mL", "5:1");
            for (ahead, types) in jobs {
                let date = (day("2026-03-01") + Days::new(ahead)).to_string();
                let job = shop.booked("wash", &date);
                job.job_types =
                    [vec![id("wash")], vec![id("finish")], vec![id("wash"), id("finish")]][types]
                        .clone();
            }
            for (ago, product, packs) in orders {
                let date = (day("2026-03-01") - Days::new(ago)).to_string();
                shop.order(&date, "north", products[product], packs);
            }
            (shop.seed, shop.futures) = (seed.into(), 60);
            shop
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    /// `plan()` of a test shop is checked: each line's parts, each lack's parts, and the parts of
    /// each job's chance add up as they are printed.
    #[test]
    fn every_part_of_any_small_shop_s_plan_adds_up(shop in any_shop()) {
        shop.plan();
    }
}
