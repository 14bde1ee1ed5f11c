//! How fast Capful is, and how its time grows with the shop: `scripts/bench` runs this.
//!
//! Beside each measure stands a reference, a fixed amount of plain work, taken seconds before: on a
//! machine that does other things as well a ratio to it says more than milliseconds do.

#![allow(clippy::expect_used, clippy::unwrap_used)]

mod large_shop;
mod table;

use std::hint::black_box;
use std::time::{Duration, SystemTime};

use capful_domain::{Facts, Snapshot};
use capful_forecast::fitter::{Family, FitSettings, Prior, Sums, Term, fit};
use capful_forecast::{PlanSettings, expected_pours, plan};
use chrono::NaiveDate;
use criterion::measurement::WallTime;
use criterion::{BenchmarkGroup, Criterion};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::large_shop::{Written, after_years, large_shop};
use crate::table::Line;

const fn line(group: &'static str, name: &'static str, from: Option<&'static str>) -> Line {
    Line { group, name, grows_from: from }
}

const LINES: [Line; 16] = [
    line("plan", "demo shop", None),
    line("plan", "200 products, 1 year", None),
    line("plan", "200 products, 2 years", Some("200 products, 1 year")),
    line("plan", "200 products, 3 years", Some("200 products, 1 year")),
    line("ledger", "1 year", None),
    line("ledger", "2 years", Some("1 year")),
    line("ledger", "3 years", Some("1 year")),
    line("fitter", "1,000 rows, 20 columns", None),
    line("fitter", "2,000 rows, 20 columns", Some("1,000 rows, 20 columns")),
    line("fitter", "1,000 rows, 40 columns", Some("1,000 rows, 20 columns")),
    line("folder", "read 30,000 rows", None),
    line("folder", "read 60,000 rows", Some("read 30,000 rows")),
    line("folder", "write 30,000 rows", None),
    line("folder", "write 60,000 rows", Some("write 30,000 rows")),
    line("snapshot", "1 year", None),
    line("snapshot", "3 years", Some("1 year")),
];

fn main() {
    // `cargo test --all-targets` runs benches too; a debug build has nothing to measure.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let started = SystemTime::now();
    let mut criterion = Criterion::default()
        .output_directory(&table::directory())
        .without_plots()
        .sample_size(15)
        .warm_up_time(Duration::from_millis(300))
        .configure_from_args();
    let history = large_shop(&Written { years: 3, measured: 20 });
    bench_plan(&mut criterion, &history);
    bench_ledger(&mut criterion, &history);
    bench_fitter(&mut criterion);
    bench_folder(&mut criterion);
    bench_snapshot(&mut criterion, &history);
    criterion.final_summary();
    table::print(&LINES, started);
}

/// Measures `work`, the reference just before it: numbers sorted, then exponentials and logarithms.
fn measure<T>(group: &mut BenchmarkGroup<'_, WallTime>, name: &str, mut work: impl FnMut() -> T) {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(1);
    let numbers: Vec<f64> = (0..200_000).map(|_| rng.random_range(0.0..1.0)).collect();
    group.measurement_time(Duration::from_secs(1));
    group.bench_function(table::reference_of(name), |bencher| {
        bencher.iter(|| {
            let mut sorted = black_box(&numbers).clone();
            sorted.sort_by(f64::total_cmp);
            sorted.iter().map(|x| x.exp().ln_1p()).sum::<f64>()
        });
    });
    group.measurement_time(Duration::from_secs(3));
    group.bench_function(name, |bencher| bencher.iter(&mut work));
}

fn demo() -> Snapshot {
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    let facts = capful_demo::demo_shop(today, 1);
    Snapshot::of(&facts, facts.shop.start_of(today))
}

fn bench_plan(criterion: &mut Criterion, history: &Facts) {
    let mut group = criterion.benchmark_group("plan");
    let settings = PlanSettings::default();
    let mut plan_of = |name: &str, snapshot: Snapshot| {
        measure(&mut group, name, || plan(black_box(&snapshot), &settings, 1));
    };
    plan_of("demo shop", demo());
    plan_of("200 products, 1 year", after_years(history, 1));
    plan_of("200 products, 2 years", after_years(history, 2));
    plan_of("200 products, 3 years", after_years(history, 3));
}

fn bench_ledger(criterion: &mut Criterion, history: &Facts) {
    let mut group = criterion.benchmark_group("ledger");
    for (name, years) in [("1 year", 1), ("2 years", 2), ("3 years", 3)] {
        let snapshot = after_years(history, years);
        let expected = expected_pours(&snapshot);
        measure(&mut group, name, || black_box(&snapshot).ledger(&expected));
    }
}

fn bench_snapshot(criterion: &mut Criterion, history: &Facts) {
    let mut group = criterion.benchmark_group("snapshot");
    for (name, years) in [("1 year", 1), ("3 years", 3)] {
        let facts = after_years(history, years).facts;
        measure(&mut group, name, || after_years(black_box(&facts), years));
    }
}

fn bench_fitter(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("fitter");
    let settings =
        FitSettings { family: Family::Gamma, dispersion: 0.1, dispersion_worth: 8.0, bound: 3.0 };
    for (name, rows, columns) in [
        ("1,000 rows, 20 columns", 1000, 20),
        ("2,000 rows, 20 columns", 2000, 20),
        ("1,000 rows, 40 columns", 1000, 40),
    ] {
        let sums = sums(rows, columns);
        let prior = Prior { mean: vec![0.0; columns], sd: vec![0.5; columns] };
        measure(&mut group, name, || fit(black_box(&sums), &prior, &settings).unwrap());
    }
}

/// Sums of one to six units of work, each with an effect of its own and three that all share.
fn sums(rows: usize, columns: usize) -> Sums {
    let mut rng = Xoshiro256PlusPlus::seed_from_u64(2);
    let truth: Vec<f64> = (0..columns).map(|_| rng.random_range(-0.5..0.5)).collect();
    let mut sums = Sums::default();
    for _ in 0..rows {
        let mut seen = 0.0;
        for _ in 0..rng.random_range(1..=6) {
            let own = rng.random_range(3..columns);
            let (size, condition) = (rng.random_range(-0.2..0.4), rng.random_range(-0.4..0.5));
            let effects = [(0, 1.0), (1, size), (2, condition), (own, 1.0)];
            let eta: f64 = effects.iter().map(|(place, x)| truth[*place] * x).sum();
            seen += (3.0 + eta).exp() * rng.random_range(0.5..1.5);
            sums.term(Term::new(3.0), &effects);
        }
        sums.observe(seen, 0.01 * seen * seen, 1.0);
    }
    sums
}

fn bench_folder(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("folder");
    for (years, rows) in [(4, "30,000"), (8, "60,000")] {
        let facts = large_shop(&Written { years, measured: 37 });
        println!("{}", counted(&facts));
        let folder = tempfile::tempdir().unwrap();
        capful_folder::write(&facts, folder.path()).unwrap();
        measure(&mut group, &format!("read {rows} rows"), || {
            capful_folder::read(black_box(folder.path())).unwrap()
        });
        measure(&mut group, &format!("write {rows} rows"), || {
            capful_folder::to_files(black_box(&facts))
        });
    }
}

fn counted(facts: &Facts) -> String {
    let files = capful_folder::to_files(facts);
    let lines = |bytes: &Vec<u8>| bytes.iter().filter(|byte| **byte == b'\n').count();
    let rows: usize = files.values().map(lines).sum();
    format!("{} jobs, {rows} rows", facts.jobs.len())
}
