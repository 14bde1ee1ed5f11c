//! A planner that made a plan makes the next one from what it kept, and it is the same one.
#![allow(clippy::unwrap_used, missing_docs)]

use std::collections::HashSet;
use std::sync::Arc;

use capful_domain::{Condition, Facts, Id, Job, JobStatus, Snapshot, VehicleSize};
use capful_forecast::{PlanSettings, Planner, plan, to_json};
use chrono::{Days, TimeDelta};
use proptest::prelude::*;

const SETTINGS: PlanSettings = PlanSettings { futures: 60 };

fn shop() -> Facts {
    capful_demo::demo_shop("2026-03-02".parse().unwrap(), 1)
}

/// What may happen between two plans.
#[derive(Debug, Clone)]
enum Step {
    Booked { types: Vec<usize>, size: usize, condition: u8, ahead: u64 },
    CalledOff(usize),
    Moved(usize, u64),
    Finished(usize),
    Started(usize),
    Counted(usize),
    Later(i64),
    NextDay,
}

fn step() -> impl Strategy<Value = Step> {
    let types = proptest::collection::vec(0..12_usize, 1..3);
    prop_oneof![
        4 => (types, 0..4_usize, 1..6_u8, 0..40_u64).prop_map(|(types, size, condition, ahead)| {
            Step::Booked { types, size, condition, ahead }
        }),
        1 => (0..50_usize).prop_map(Step::CalledOff),
        1 => (0..50_usize, 0..30_u64).prop_map(|(job, ahead)| Step::Moved(job, ahead)),
        1 => (0..50_usize).prop_map(Step::Finished),
        1 => (0..50_usize).prop_map(Step::Started),
        1 => (0..40_usize).prop_map(Step::Counted),
        1 => (1..90_i64).prop_map(Step::Later),
        1 => Just(Step::NextDay),
    ]
}

fn take(step: &Step, facts: &mut Facts, now: &mut chrono::DateTime<chrono::Utc>, number: usize) {
    let today = facts.shop.day_of(*now);
    let open = |facts: &Facts, which: usize| -> Option<usize> {
        let jobs = facts.jobs.iter().enumerate();
        let open: Vec<usize> =
            jobs.filter(|(_, job)| job.status == JobStatus::Booked).map(|(p, _)| p).collect();
        open.get(which % open.len().max(1)).copied()
    };
    match step {
        Step::Booked { types, size, condition, ahead } => {
            let mut named: Vec<Id> = types
                .iter()
                .map(|t| facts.job_types[t % facts.job_types.len()].id.clone())
                .collect();
            named.dedup();
            let like = facts.jobs.iter().find(|job| job.status == JobStatus::Booked).unwrap();
            let job = Job {
                id: Id::parse(&format!("new-{number}")).unwrap(),
                job_types: named,
                size: VehicleSize::ALL[*size],
                condition: Condition::new(*condition).unwrap(),
                planned_on: today + Days::new(*ahead),
                booked_at: *now,
                vehicle: None,
                ..like.clone()
            };
            facts.jobs.push(job);
        }
        Step::CalledOff(which) => {
            let Some(place) = open(facts, *which) else { return };
            facts.jobs[place].status = JobStatus::Cancelled;
            facts.jobs[place].cancelled_at = Some(*now);
        }
        Step::Moved(which, ahead) => {
            let Some(place) = open(facts, *which) else { return };
            facts.jobs[place].planned_on = today + Days::new(*ahead);
        }
        Step::Finished(which) => {
            let Some(place) = open(facts, *which) else { return };
            facts.jobs[place].status = JobStatus::Done;
            facts.jobs[place].finished_at = Some(*now);
        }
        Step::Started(which) => {
            let Some(place) = open(facts, *which) else { return };
            facts.jobs[place].status = JobStatus::Started;
            facts.jobs[place].started_at = Some(*now);
        }
        Step::Counted(which) => {
            let like = facts.counts[which % facts.counts.len()].clone();
            let id = Id::parse(&format!("count-{number}")).unwrap();
            facts.counts.push(capful_domain::facts::Count { id, at: *now, ..like });
        }
        Step::Later(minutes) => *now += TimeDelta::minutes(*minutes),
        Step::NextDay => *now = facts.shop.start_of(today + Days::new(1)),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    #[test]
    fn a_plan_is_the_same_whatever_was_planned_before(
        steps in proptest::collection::vec(step(), 1..6),
    ) {
        let mut facts = shop();
        let mut now = facts.shop.start_of("2026-03-02".parse().unwrap()) + TimeDelta::hours(8);
        let planner = Planner::default();
        let _ = planner.plan(Arc::new(Snapshot::of(&facts, now)), &SETTINGS, 1);
        for (number, step) in steps.iter().enumerate() {
            take(step, &mut facts, &mut now, number);
            let snapshot = Snapshot::of(&facts, now);
            let fresh = to_json(&plan(&snapshot, &SETTINGS, 1)).unwrap();
            let again = to_json(&planner.plan(Arc::new(snapshot), &SETTINGS, 1)).unwrap();
            prop_assert!(again == fresh, "after {step:?}");
        }
    }
}

/// Booked for a day to come, a job changes the products of its sheet, and those that they may stand
/// in for.
#[test]
fn a_booking_leaves_the_products_that_it_does_not_use() {
    let facts = shop();
    let morning = facts.shop.start_of("2026-03-02".parse().unwrap());
    let before = Snapshot::of(&facts, morning);
    let mut after = before.clone();
    let like = after.facts.jobs.iter().find(|job| job.status == JobStatus::Booked).unwrap();
    let id = Id::parse("one-more").unwrap();
    let planned_on = after.day + Days::new(3);
    let job = Job { id, planned_on, vehicle: None, ..like.clone() };
    // What is on its sheet, and what was poured for its like without being on it.
    let is_like = |other: &Job| other.job_types.iter().any(|own| job.job_types.contains(own));
    let like: HashSet<&Id> =
        facts.jobs.iter().filter(|own| is_like(own)).map(|own| &own.id).collect();
    let is_used = |product: &Id| {
        let rows = facts.usage_sheet.iter().filter(|row| job.job_types.contains(&row.job_type));
        let poured = facts
            .pours
            .iter()
            .filter(|pour| pour.job.as_ref().is_some_and(|job| like.contains(job)));
        rows.map(|row| &row.product)
            .chain(poured.map(|pour| &pour.product))
            .any(|own| own == product)
    };
    let untouched = facts
        .products
        .iter()
        .filter(|own| !is_used(&own.id) && !own.substitutes.iter().any(is_used));
    let untouched = untouched.count();
    after.facts.jobs.push(job.clone());
    let planner = Planner::default();
    let _ = planner.plan(Arc::new(before), &SETTINGS, 1);
    assert_eq!(planner.held(), 0);
    let _ = planner.plan(Arc::new(after.clone()), &SETTINGS, 1);
    assert!(untouched > 0 && planner.held() >= untouched, "{} of {untouched}", planner.held());
    // What a finished job teaches is learned.
    after.facts.jobs.last_mut().unwrap().planned_on = after.day;
    after.facts.jobs.last_mut().unwrap().status = JobStatus::Done;
    let _ = planner.plan(Arc::new(after), &SETTINGS, 1);
    assert_eq!(planner.held(), 0);
}

/// What is learned at the stroke of midnight is what is learned all day.
#[test]
fn the_first_moment_of_a_day_is_of_that_day() {
    let facts = shop();
    let midnight = facts.shop.start_of("2026-03-03".parse().unwrap());
    let planner = Planner::default();
    for now in [midnight, midnight + TimeDelta::minutes(1)] {
        let snapshot = Snapshot::of(&facts, now);
        let fresh = to_json(&plan(&snapshot, &SETTINGS, 1)).unwrap();
        assert!(to_json(&planner.plan(Arc::new(snapshot), &SETTINGS, 1)).unwrap() == fresh);
    }
}

#[test]
fn another_seed_and_other_settings_are_heeded() {
    let snapshot =
        Arc::new(Snapshot::of(&shop(), shop().shop.start_of("2026-03-02".parse().unwrap())));
    let planner = Planner::default();
    for (futures, seed) in [(60, 1), (60, 2), (80, 2), (60, 1)] {
        let settings = PlanSettings { futures };
        let again = to_json(&planner.plan(Arc::clone(&snapshot), &settings, seed)).unwrap();
        assert!(again == to_json(&plan(&snapshot, &settings, seed)).unwrap());
    }
}
