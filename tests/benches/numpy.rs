//! The planner beside the same model in numpy, scipy and scikit-learn, both run in turn on the same
//! shops: `scripts/bench numpy` runs this.
//!
//! The other one is `scripts/reference/large_plan`, which says in its first lines what it does and
//! where it differs. So that it is the same model, its usage, demand, readiness and order are held
//! against the plan's. What is asked of the planner is to be at least twenty times as fast, and to
//! take at most 2.2 times as long for twice the history.

#![allow(clippy::expect_used, clippy::unwrap_used)]

#[allow(dead_code, missing_docs)]
mod large_shop;

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::Arc;
use std::time::Instant;

use capful_domain::{Id, Job, JobStatus, Snapshot};
use capful_forecast::{PlanSettings, Planner, plan, to_json};
use chrono::Days;
use serde_json::{Value, json};

use crate::large_shop::{Written, after_years, large_shop};

const SEED: u64 = 1;
const ROUNDS: usize = 5;
/// Plans made in each round, for one of the other.
const PLANS_A_ROUND: usize = 3;
const LEAST_TIMES_AS_FAST: f64 = 20.0;
const MOST_GROWTH: f64 = 2.2;
/// Futures of the plans that are held against each other.
const COMPARED_FUTURES: u32 = 1600;
/// How far the two may be apart, as shares (readiness: as a chance). Usage has no chance in it;
/// the rest is what so many futures of one and so many of the other leave open.
const MOST_APART: [(&str, f64); 4] =
    [("usage_mean", 0.02), ("usage_worst", 0.1), ("demand_mean", 0.03), ("ready", 0.03)];
const MOST_QUANTILES_APART: f64 = 0.06;

fn main() {
    // `cargo test --all-targets` runs benches too; a debug build has nothing to measure.
    if !std::env::args().any(|argument| argument == "--bench") {
        return;
    }
    let Ok(python) = std::env::var("CAPFUL_PYTHON") else {
        println!("no CAPFUL_PYTHON: scripts/bench numpy sets it");
        return;
    };
    let history = large_shop(&Written { years: 3, measured: 20 });
    let folder = tempfile::tempdir().unwrap();
    let mut other = Other::start(&python);
    let shops: Vec<Measured> = (1..=3)
        .map(|years| measure(&mut other, after_years(&history, years), folder.path(), years))
        .collect();
    print(&shops);
}

/// The other planner, which answers a line with a line.
struct Other {
    _running: Child,
    asks: ChildStdin,
    answers: BufReader<ChildStdout>,
}

impl Other {
    fn start(python: &str) -> Self {
        let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/reference");
        let mut running = Command::new(python)
            .args(["-m", "large_plan"])
            .current_dir(reference)
            .env("PYTHONDONTWRITEBYTECODE", "1")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("python with numpy, scipy and scikit-learn");
        let asks = running.stdin.take().unwrap();
        let answers = BufReader::new(running.stdout.take().unwrap());
        Self { _running: running, asks, answers }
    }

    fn ask(&mut self, question: &Value) -> Value {
        writeln!(self.asks, "{question}").unwrap();
        let mut answer = String::new();
        self.answers.read_line(&mut answer).unwrap();
        serde_json::from_str(&answer).expect("an answer of large_plan")
    }
}

/// What was measured of one shop, in seconds.
struct Measured {
    years: u32,
    own: Vec<f64>,
    other: Vec<f64>,
    /// A plan after one more booked job, by a planner that made the plan before it.
    after_one_more: Vec<f64>,
    answer: Value,
}

fn measure(other: &mut Other, snapshot: Snapshot, folder: &Path, years: u32) -> Measured {
    let settings = PlanSettings::default();
    let shop = folder.join(format!("shop-{years}"));
    capful_folder::write(&snapshot.facts, &shop).unwrap();
    let mut asked = |settings: &PlanSettings| {
        let made = folder.join(format!("plan-{years}.json"));
        std::fs::write(&made, to_json(&plan(&snapshot, settings, SEED)).unwrap()).unwrap();
        other.ask(&json!({
            "folder": shop, "today": snapshot.day, "futures": settings.futures, "seed": SEED,
            "plan": made,
        }))
    };
    let mut measured = Measured {
        years,
        own: Vec::new(),
        other: Vec::new(),
        after_one_more: Vec::new(),
        answer: Value::Null,
    };
    let before = Arc::new(snapshot.clone());
    for round in 0..ROUNDS {
        for number in 0..PLANS_A_ROUND {
            measured.own.push(seconds(|| plan(&snapshot, &settings, SEED)));
            let planner = Planner::default();
            let _ = planner.plan(Arc::clone(&before), &settings, SEED);
            let more = Arc::new(with_one_more(&snapshot, round * PLANS_A_ROUND + number));
            measured.after_one_more.push(seconds(|| planner.plan(more, &settings, SEED)));
        }
        measured.other.push(asked(&settings)["seconds"].as_f64().unwrap());
    }
    measured.answer = asked(&PlanSettings { futures: COMPARED_FUTURES });
    measured
}

/// The same with a job booked for one of the next weeks.
fn with_one_more(snapshot: &Snapshot, number: usize) -> Snapshot {
    let mut more = snapshot.clone();
    let like = more.facts.jobs.iter().filter(|job| job.status == JobStatus::Booked);
    let like = like.cycle().nth(number).unwrap().clone();
    let planned_on = more.day + Days::new(2 + 3 * (number as u64 % 10));
    let booked_at = more.moment - chrono::TimeDelta::hours(1);
    let id = Id::parse("one-more").unwrap();
    more.facts.jobs.push(Job { id, planned_on, booked_at, ..like });
    more
}

fn seconds<T>(work: impl FnOnce() -> T) -> f64 {
    let began = Instant::now();
    std::hint::black_box(work());
    began.elapsed().as_secs_f64()
}

fn median(numbers: &[f64]) -> f64 {
    let mut sorted = numbers.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

fn print(shops: &[Measured]) {
    println!(
        "{:<24}{:>10}{:>22}{:>10}{:>16}",
        "200 products", "plan()", "numpy, scikit-learn", "ratio", "one job more"
    );
    for shop in shops {
        let (own, other) = (median(&shop.own), median(&shop.other));
        println!(
            "{:<24}{:>8.0}ms{:>21.2}s{:>10.1}{:>14.0}ms",
            format!("{} {} of history", shop.years, if shop.years == 1 { "year" } else { "years" }),
            1000.0 * own,
            other,
            other / own,
            1000.0 * median(&shop.after_one_more)
        );
    }
    let grows = |of: &dyn Fn(&Measured) -> &[f64]| median(of(&shops[1])) / median(of(&shops[0]));
    let (own, other) = (grows(&|shop| &shop.own), grows(&|shop| &shop.other));
    println!("twice the history: plan() {own:.2} times as long, the other {other:.2}");
    let last = &shops[shops.len() - 1];
    let times = median(&last.other) / median(&last.own);
    held(&format!("{times:.1} times as fast"), times >= LEAST_TIMES_AS_FAST, LEAST_TIMES_AS_FAST);
    held(&format!("grows {own:.2} times"), own <= MOST_GROWTH, MOST_GROWTH);
    let sooner = median(&last.own) / median(&last.after_one_more);
    println!("a plan after one more job, {sooner:.1} times as fast as one from nothing");
    shops.iter().for_each(agreement);
}

fn held(what: &str, is_held: bool, bound: f64) {
    println!("{}: {what} (asked: {bound})", if is_held { "held" } else { "MISSED" });
}

/// Whether the two made the same plan, but for chance.
fn agreement(shop: &Measured) {
    println!("{} years: {}", shop.years, shop.answer);
    for (name, bound) in MOST_APART {
        let apart = shop.answer[name].as_f64().unwrap();
        assert!(apart <= bound, "{name}: {apart} apart, more than {bound}");
    }
    for (name, apart) in shop.answer["demand_quantiles"].as_object().unwrap() {
        let apart = apart.as_f64().unwrap();
        assert!(apart <= MOST_QUANTILES_APART, "{name} of demand is {apart} apart");
    }
}
