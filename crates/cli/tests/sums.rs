//! The sums that `--open` prints add up as they stand, for every line and every readiness of the
//! demo shop's plan.

#![allow(clippy::unwrap_used)]

use capful_cli::render::{Ink, View, open};
use capful_domain::{Facts, Snapshot, UnitSystem};
use capful_forecast::{Plan, PlanSettings, plan};
use rust_decimal::Decimal;

/// A printed row of a sum: its sign, its number and its unit.
fn row(line: &str) -> Option<(char, Decimal, &str)> {
    let line = line.trim_start();
    let sign = line.chars().next().filter(|first| "+−=".contains(*first));
    let rest = line.trim_start_matches(['+', '−', '=']).trim_start();
    let (amount, text) = rest.split_once("  ")?;
    // "fl oz" has a space in it; the number has none.
    let (number, unit) = amount.split_once(' ')?;
    let minus = if number.starts_with('−') { -Decimal::ONE } else { Decimal::ONE };
    let number: Decimal = number.trim_start_matches('−').parse().ok()?;
    (!text.is_empty()).then_some((sign.unwrap_or(' '), minus * number, unit))
}

/// How many sums there are in a text, each of which adds up.
fn sums(text: &str) -> usize {
    let (mut running, mut own_unit, mut starts) = (Decimal::ZERO, "", 0);
    let mut is_in_sum = false;
    for line in text.lines() {
        let Some((sign, number, unit)) = row(line) else {
            is_in_sum = false;
            continue;
        };
        match sign {
            ' ' => {
                starts += 1;
                (running, own_unit, is_in_sum) = (number, unit, true);
            }
            '+' => running += number,
            '−' => running -= number,
            _ => assert_eq!(running, number, "{line}\nof\n{text}"),
        }
        assert!(is_in_sum && unit == own_unit, "{line}");
    }
    starts
}

fn demo(units: UnitSystem) -> (Facts, Plan) {
    let today = "2026-03-02".parse().unwrap();
    let mut facts = capful_demo::demo_shop(today, 1);
    facts.shop.units = units;
    let snapshot = Snapshot::of(&facts, facts.shop.start_of(today));
    let plan = plan(&snapshot, &PlanSettings { futures: 200 }, 1);
    (facts, plan)
}

#[test]
fn every_printed_line_and_readiness_adds_up() {
    for units in [UnitSystem::Metric, UnitSystem::Us] {
        let (facts, plan) = demo(units);
        let view = View::new(&facts, &plan, Ink::PLAIN);
        let lines: usize = plan.weekly_order.orders.iter().map(|order| order.lines.len()).sum();
        assert!(lines > 3);
        assert_eq!(sums(&open(&view, "order").unwrap()), lines);
        let told = plan.readiness.iter().flat_map(|job| &job.short_of);
        let told = told.filter(|short| short.chance >= 0.02).count();
        assert!(told > 3);
        assert_eq!(sums(&open(&view, "readiness").unwrap()), told);
        for job in &plan.readiness {
            assert_eq!(sums(&open(&view, &job.job).unwrap()), job.short_of.len());
        }
    }
}

/// "Not ready 26.8%: 20.3% Soap, 6.5% others."
#[test]
fn every_printed_split_of_a_chance_adds_up() {
    let (facts, mut plan) = demo(UnitSystem::Metric);
    // One that lacks two things, whatever the shop.
    let job = plan.readiness.iter_mut().find(|job| !job.short_of.is_empty()).unwrap();
    let other = job.short_of[0].clone();
    job.short_of.push(other);
    (job.short_of[0].not_ready, job.short_of[1].not_ready) = (0.0626, 0.1249);
    let view = View::new(&facts, &plan, Ink::PLAIN);
    let text = open(&view, "readiness").unwrap();
    let text: Vec<&str> = text.split_whitespace().collect();
    let text = text.join(" ");
    let mut splits = 0;
    for split in text.split("Not ready ").skip(1) {
        let (said, rest) = split.split_once("%: ").unwrap();
        let parts = rest.split(". Where several").next().unwrap();
        let share = |part: &str| part.split('%').next().unwrap().trim().parse::<Decimal>().unwrap();
        let ends_in_share = |part: &&str| part.contains('%');
        let sum: Decimal = parts.split("; ").filter(ends_in_share).map(share).sum();
        assert_eq!(sum, said.parse().unwrap(), "{split}");
        splits += 1;
    }
    assert!(splits > 0);
}
