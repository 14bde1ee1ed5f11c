//! What a plan looks like: a small one, written by hand, beside reviewed snapshots.

#![allow(clippy::unwrap_used)]

use capful_cli::render::{Ink, View, open, screen};
use capful_domain::{
    Amount, Condition, Currency, Facts, Id, Job, JobStatus, JobType, Money, Product, Shop,
    Supplier, Unit, UnitSystem, VehicleSize,
};
use capful_forecast::Plan;
use capful_forecast::plan::{
    AmountIn, Arrives, Bands, ComesBefore, CoverDays, Demand, GoingOff, JobReadiness, LeadDays,
    LineParts, OrderLine, ProductOutlook, SetOut, ShortOf, ShortParts, SupplierOrder, UsageRow,
    WaitingSupplier, Warning, WeeklyOrder,
};
use chrono::NaiveDate;
use rust_decimal::Decimal;

fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

fn march(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, day).unwrap()
}

const fn ml(amount: f64) -> AmountIn {
    AmountIn { amount, unit: "mL" }
}

fn cents(cents: i64) -> Decimal {
    Decimal::new(cents, 2)
}

fn facts() -> Facts {
    let currency = Currency::parse("CAD").unwrap();
    let mut facts = Facts::new(Shop::new("Two Gulls", chrono_tz::America::Halifax, currency));
    let bottle = |number, unit| Amount { number: Decimal::from(number), unit };
    facts.products = vec![
        Product::new(id("iron-remover"), "Iron remover, 5 L", bottle(5000, Unit::Ml)),
        Product::new(id("coating"), "Silica paint coating, 50 mL", bottle(50, Unit::Ml)),
    ];
    facts.suppliers = [("north-dock", "North Dock Supply"), ("mill", "Mill Lane Chemicals")]
        .map(|(supplier, name)| Supplier {
            id: id(supplier),
            name: name.to_owned(),
            lead_days: Decimal::from(4),
            lead_days_sd: None,
            order_weekdays: vec![],
            freight: Money::ZERO,
            free_freight_over: None,
            minimum_order: Money::ZERO,
        })
        .to_vec();
    facts.job_types = [("coat", "Paint coating"), ("wash", "Maintenance wash")]
        .map(|(job_type, name)| JobType {
            id: id(job_type),
            name: name.to_owned(),
            price: None,
            stall_cost: None,
            comes_back: None,
        })
        .to_vec();
    let booked = |job, day, types: &[&str], size| Job {
        id: id(job),
        booked_at: "2026-02-20T12:00:00Z".parse().unwrap(),
        planned_on: march(day),
        status: JobStatus::Booked,
        job_types: types.iter().map(|t| id(t)).collect(),
        size,
        condition: Condition::REFERENCE,
        started_at: None,
        finished_at: None,
        cancelled_at: None,
        vehicle: None,
        price: None,
    };
    facts.jobs = vec![
        booked("J-2041", 3, &["wash"], VehicleSize::Small),
        booked("J-2042", 5, &["wash", "coat"], VehicleSize::Large),
    ];
    facts
}

fn empty() -> Plan {
    Plan {
        shop: "Two Gulls".to_owned(),
        as_of: march(2),
        seed: 1,
        currency: "CAD".to_owned(),
        weekly_order: WeeklyOrder { orders: vec![], total: Decimal::ZERO, waiting: vec![] },
        products: vec![],
        going_off: vec![],
        readiness: vec![],
        usage: vec![],
        warnings: vec![],
    }
}

fn weekly_order() -> WeeklyOrder {
    let line = OrderLine {
        product: "iron-remover".to_owned(),
        packs: 1,
        containers: 1,
        cost: cents(4600),
        stall_chance_without: 0.31,
        stall_chance_with: 0.004,
        expected_waste: cents(40),
        why: "Five booked jobs take about 1.2 L before the next delivery and jobs not booked yet \
              0.9 L; 1.2 L is left."
            .to_owned(),
        code: Some("ND-77".to_owned()),
        parts: LineParts {
            from: march(2),
            to: march(16),
            late_to: march(18),
            booked_jobs: 5,
            booked: ml(1210.0),
            not_booked: ml(890.0),
            lead_time: ml(90.0),
            safety: ml(410.0),
            reorder_point: ml(2600.0),
            to_last: ml(3500.0),
            order_up_to: ml(6100.0),
            goes_off: ml(40.0),
            on_hand: ml(1200.0),
            on_order: ml(0.0),
            missing: ml(4940.0),
            beyond: ml(60.0),
            bought: ml(5000.0),
            up_to_day: march(30),
        },
        tried: Vec::new(),
    };
    let order = SupplierOrder {
        supplier: "north-dock".to_owned(),
        place_by: march(2),
        arrives: Arrives { p50: march(6), p90: march(9) },
        goods: cents(4600),
        freight: cents(1200),
        total: cents(5800),
        lines: vec![line],
        why: "Waiting a week risks more than the freight costs.".to_owned(),
    };
    let waiting = WaitingSupplier {
        supplier: "mill".to_owned(),
        why: "Nothing of theirs is likely to run out before next Monday's order comes.".to_owned(),
    };
    WeeklyOrder { orders: vec![order], total: cents(5800), waiting: vec![waiting] }
}

fn outlook() -> ProductOutlook {
    let bands = Bands { p2_5: 1180.0, p25: 1740.0, p75: 2440.0, p97_5: 3150.0 };
    let demand = Demand {
        from: march(2),
        to: march(16),
        mean: 2100.0,
        sd: 520.0,
        p10: 1450.0,
        p50: 2080.0,
        p90: 2790.0,
        p95: 2990.0,
        bands,
    };
    let week = Demand { to: march(9), mean: 1050.0, p10: 600.0, p50: 1030.0, ..demand };
    ProductOutlook {
        product: "iron-remover".to_owned(),
        on_hand: ml(1200.0),
        on_order: ml(0.0),
        reorder_point: ml(2600.0),
        order_up_to: ml(6100.0),
        lead_days: LeadDays { mean: 4.2, p90: 7.0 },
        demand,
        cover_days: CoverDays { p10: 6, p50: 9, p90: 42 },
        cover_is_at_least: false,
        horizon_days: 42,
        past_use_by: ml(0.0),
        demand_ahead: vec![week],
    }
}

fn readiness() -> Vec<JobReadiness> {
    let coating = || "coating".to_owned();
    let short = ShortOf {
        product: coating(),
        chance: 0.27,
        missing: ml(6.0),
        substitute: Some("iron-remover".to_owned()),
        not_ready: 0.26,
        parts: ShortParts {
            on_hand: ml(31.0),
            books_off: ml(-1.5),
            coming: vec![ComesBefore {
                order: "PO-7".to_owned(),
                holds: ml(50.0),
                chance: 0.2,
                average: ml(10.0),
            }],
            booked_jobs: 0,
            booked: ml(0.0),
            not_booked: ml(8.25),
            goes_off: ml(0.0),
            other_ratio: ml(0.0),
            takes: ml(22.0),
            left: ml(9.25),
            swing: ml(18.0),
            least: ml(-8.75),
        },
    };
    let bench = SetOut {
        product: coating(),
        container: "R-0412/1".to_owned(),
        expect: ml(22.0),
        up_to: ml(31.0),
        water: Some(5.0),
    };
    let job = |job: &str, day, ready_chance, short_of, set_out| JobReadiness {
        job: job.to_owned(),
        planned_on: march(day),
        ready_chance,
        not_ready_others: if ready_chance < 0.9 { 0.01 } else { 0.0 },
        short_of,
        set_out,
    };
    vec![job("J-2041", 3, 0.997, vec![], vec![]), job("J-2042", 5, 0.73, vec![short], vec![bench])]
}

fn plan() -> Plan {
    let usage = |size, condition, mean| UsageRow {
        job_type: "wash".to_owned(),
        product: "iron-remover".to_owned(),
        size,
        condition,
        mean,
        sd: 19.0,
        mean_p10: mean - 6.0,
        mean_p90: mean + 6.0,
        share_of_jobs: 0.85,
        sheet: 75.0,
        jobs_seen: 34,
    };
    let container = |name: &str, days_left, use_by| GoingOff {
        container: name.to_owned(),
        product: "coating".to_owned(),
        lot: "B2231".to_owned(),
        state: "open",
        water: (days_left > 0).then_some(5.0),
        left: ml(31.0),
        use_by: march(use_by),
        days_left,
        expected_waste: ml(12.0),
        waste_cost: cents(1480),
        advice: "Use it on Thursday's car before opening another.".to_owned(),
    };
    Plan {
        weekly_order: weekly_order(),
        products: vec![outlook()],
        going_off: vec![container("R-0398/2", -1, 1), container("R-0412/1", 7, 9)],
        readiness: readiness(),
        usage: vec![usage("medium", 3, 61.0), usage("large", 3, 74.0), usage("medium", 5, 96.0)],
        warnings: vec![Warning {
            code: "count-due",
            product: Some("iron-remover".to_owned()),
            text: "Iron remover, 5 L: count it before you order. It was last counted 41 days ago; \
                   what is left may be anything from 0.6 L to 1.9 L, which decides the order."
                .to_owned(),
        }],
        ..empty()
    }
}

fn opened(plan: &Plan, what: &str) -> String {
    let facts = facts();
    let text = open(&View::new(&facts, plan, Ink::PLAIN), what).unwrap();
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "longer than 80 columns: {line}");
        assert_eq!(line, line.trim_end());
    }
    text
}

const PARTS: [&str; 6] = ["order", "readiness", "going-off", "products", "usage", "warnings"];

#[test]
fn a_plan_on_one_screen() {
    let (facts, plan) = (facts(), plan());
    insta::assert_snapshot!(screen(&View::new(&facts, &plan, Ink::PLAIN)));
}

#[test]
fn quantities_are_in_the_shops_units() {
    let (mut facts, plan) = (facts(), plan());
    facts.shop.units = UnitSystem::Us;
    let text = screen(&View::new(&facts, &plan, Ink::PLAIN));
    for said in ["41 fl oz", "71 fl oz", "1 fl oz", "0.2 fl oz"] {
        assert!(text.contains(said), "no {said:?} in\n{text}");
    }
    assert!(!text.contains("1.2 L  "), "{text}");
}

#[test]
fn each_part_in_full() {
    let plan = plan();
    let all = PARTS.map(|part| format!("--open {part}\n\n{}", opened(&plan, part)));
    insta::assert_snapshot!(all.join("\n\n"));
}

#[test]
fn one_product_and_one_job_in_full() {
    let plan = plan();
    let both = [opened(&plan, "iron-remover"), opened(&plan, "J-2042")];
    insta::assert_snapshot!(both.join("\n\n"));
}

#[test]
fn nothing_to_say_is_said_kindly() {
    let (facts, plan) = (facts(), empty());
    let text = screen(&View::new(&facts, &plan, Ink::PLAIN));
    assert!(text.contains("Nothing to order this week."));
    assert!(text.contains("No jobs are booked."));
    let said = PARTS.map(|part| opened(&plan, part));
    assert_eq!(
        said.concat(),
        "Nothing to order this week.\nNo jobs are booked.\nNothing is going off.\nThe shop has no \
         products yet.\nNothing is known yet of what jobs take.\nThere is nothing to warn of.\n"
    );
}

#[test]
fn a_long_order_still_fits_the_screen() {
    let (facts, mut plan) = (facts(), plan());
    let order = plan.weekly_order.orders[0].clone();
    plan.weekly_order.orders = vec![order; 4];
    for order in &mut plan.weekly_order.orders {
        order.lines = vec![order.lines[0].clone(); 12];
    }
    plan.readiness = vec![plan.readiness[1].clone(); 30];
    plan.going_off = vec![plan.going_off[0].clone(); 30];
    plan.warnings = vec![plan.warnings[0].clone(); 30];
    let text = screen(&View::new(&facts, &plan, Ink::PLAIN));
    assert!(text.lines().count() <= 55, "{text}");
    for part in PARTS.iter().filter(|part| !["products", "usage"].contains(part)) {
        assert!(text.contains(&format!("more: --open {part}")), "{part}\n{text}");
    }
}

#[test]
fn what_is_put_on_the_bench_is_whole_and_what_lasts_past_the_horizon_is_over_it() {
    let mut plan = plan();
    let pieces = |amount| AmountIn { amount, unit: "each" };
    let bench = &mut plan.readiness[1].set_out[0];
    (bench.expect, bench.up_to) = (pieces(0.486), pieces(1.2));
    let text = opened(&plan, "J-2042");
    assert!(text.contains(" 1 piece ") && text.contains(" 2 pieces "), "{text}");
    let is_amount = |before: &str| before.ends_with(|c: char| c.is_ascii_digit());
    assert!(
        !text
            .split_inclusive(" each")
            .any(|part| { part.strip_suffix(" each").is_some_and(is_amount) })
    );
    plan.products[0].cover_days = CoverDays { p10: 42, p50: 42, p90: 42 };
    plan.products[0].cover_is_at_least = true;
    assert!(opened(&plan, "iron-remover").contains("over 42 days\n"));
    assert!(opened(&plan, "products").contains(">42 d"));
}
