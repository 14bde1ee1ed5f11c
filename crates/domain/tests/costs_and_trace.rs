//! What jobs cost and where lots went, worked out by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use capful_domain::costs::{job_cost, job_type_costs, waste_by_month, waste_by_reason};
use capful_domain::facts::{Discard, DiscardReason, Pour, Receipt};
use capful_domain::trace::{trace_job, trace_lot};
use capful_domain::{
    Amount, Condition, Currency, Facts, Id, Job, JobStatus, JobType, Ledger, Money, Product,
    SheetRow, Shop, Snapshot, Unit, VehicleSize,
};
use chrono::{DateTime, NaiveDate, TimeZone, Utc};
use rust_decimal::Decimal;

fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

fn at(day: u32, hour: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 3, day, hour, 0, 0).unwrap()
}

fn ml(number: i64) -> Amount {
    Amount { number: Decimal::from(number), unit: Unit::Ml }
}

fn receipt(name: &str, lot: &str, cost: i64, day: u32) -> Receipt {
    Receipt {
        id: id(name),
        at: at(day, 9),
        product: id("polish"),
        containers: 1,
        unit_cost: Money::from_minor(cost),
        supplier: None,
        lot: Some(lot.to_owned()),
        best_before: None,
        order: None,
        container_size: None,
    }
}

fn pour(name: &str, job: &str, millilitres: i64, day: u32) -> Pour {
    Pour {
        id: id(name),
        at: at(day, 15),
        product: id("polish"),
        amount: ml(millilitres),
        job: Some(id(job)),
        ratio: None,
        container: None,
        method: None,
    }
}

fn job(name: &str, types: &[&str], day: u32) -> Job {
    Job {
        id: id(name),
        booked_at: at(1, 8),
        planned_on: NaiveDate::from_ymd_opt(2026, 3, day).unwrap(),
        status: JobStatus::Done,
        job_types: types.iter().map(|t| id(t)).collect(),
        size: VehicleSize::Medium,
        condition: Condition::REFERENCE,
        started_at: None,
        finished_at: Some(at(day, 16)),
        cancelled_at: None,
        vehicle: Some(format!("plate {name}")),
        price: None,
    }
}

/// Two 500 mL bottles, 20.00 and 30.00. J1 takes 400 mL of the first; J2 takes 200 mL: 100 mL of
/// the first and 100 mL of the second; 50 mL of the second is spilled.
fn books() -> (Snapshot, Ledger) {
    let shop = Shop::new("S", chrono_tz::America::Halifax, Currency::parse("CAD").unwrap());
    let mut facts = Facts::new(shop);
    facts.products.push(Product::new(id("polish"), "Polish", ml(500)));
    for (name, said) in [("one-step", 60), ("two-step", 180)] {
        facts.job_types.push(JobType {
            id: id(name),
            name: name.to_owned(),
            price: None,
            stall_cost: None,
            comes_back: None,
        });
        facts.usage_sheet.push(SheetRow {
            job_type: id(name),
            product: id("polish"),
            amount: ml(said),
            ratio: None,
            share_of_jobs: None,
            log_sd: None,
        });
    }
    facts.receipts = vec![receipt("R1", "A1", 2000, 1), receipt("R2", "B2", 3000, 2)];
    facts.jobs = vec![job("J1", &["one-step"], 3), job("J2", &["one-step", "two-step"], 4)];
    facts.pours = vec![pour("P1", "J1", 400, 3), pour("P2", "J2", 200, 4)];
    facts.discards = vec![Discard {
        id: id("D1"),
        at: at(5, 12),
        product: id("polish"),
        amount: Some(ml(50)),
        container: None,
        reason: Some(DiscardReason::Spilled),
    }];
    let snapshot = Snapshot::of(&facts, at(20, 0));
    let ledger = snapshot.ledger(&[]);
    (snapshot, ledger)
}

#[test]
fn a_job_costs_what_its_lots_cost() {
    let (_, ledger) = books();
    // 400/500 of 20.00.
    assert_eq!(job_cost(&ledger, &id("J1")).total, Money::from_minor(1600));
    // 100/500 of 20.00 and 100/500 of 30.00.
    let second = job_cost(&ledger, &id("J2"));
    let lines: Vec<i64> = second.lines.iter().map(|line| line.cost.minor()).collect();
    assert_eq!(lines, [400, 600]);
    assert_eq!(second.total, Money::from_minor(1000));
}

#[test]
fn a_job_of_two_types_is_shared_out_by_the_sheet() {
    let (snapshot, ledger) = books();
    let costs = job_type_costs(&snapshot, &ledger);
    // 10.00 in the proportion 60 : 180 is 2.50 and 7.50.
    assert_eq!(costs[0].total, Money::from_minor(1600 + 250));
    assert_eq!((costs[0].jobs, costs[0].mean), (2, Money::from_minor(925)));
    assert_eq!(costs[1].total, Money::from_minor(750));
}

#[test]
fn waste_is_told_by_month_and_product() {
    let (snapshot, ledger) = books();
    let waste = waste_by_month(&snapshot, &ledger);
    assert_eq!(waste.len(), 1);
    assert_eq!(waste[0].month, NaiveDate::from_ymd_opt(2026, 3, 1).unwrap());
    // 50/500 of 30.00.
    assert_eq!(waste[0].cost, Money::from_minor(300));
}

#[test]
fn waste_is_told_by_month_and_reason() {
    let (snapshot, ledger) = books();
    let waste = waste_by_reason(&snapshot, &ledger);
    let told: Vec<_> = waste.iter().map(|own| (own.month, own.reason, own.cost)).collect();
    let march = NaiveDate::from_ymd_opt(2026, 3, 1).unwrap();
    assert_eq!(told, [(march, snapshot.facts.discards[0].reason, Money::from_minor(300))]);
    assert!(told[0].1 == Some(DiscardReason::Spilled));
}

#[test]
fn a_lot_leads_to_its_vehicles_and_a_job_back_to_its_lots() {
    let (snapshot, ledger) = books();
    let first = trace_lot(&snapshot, &ledger, "A1");
    let vehicles: Vec<&str> = first[0].uses.iter().filter_map(|u| u.vehicle.as_deref()).collect();
    assert_eq!(vehicles, ["plate J1", "plate J2"]);
    assert!(first[0].left.is_zero());
    assert_eq!(trace_lot(&snapshot, &ledger, "R2")[0].left.ledger_units(), 350_000);
    let back: Vec<String> = trace_job(&ledger, &id("J2")).into_iter().map(|l| l.lot).collect();
    assert_eq!(back, ["A1", "B2"]);
    assert!(trace_lot(&snapshot, &ledger, "nothing").is_empty());
}
