//! How fast the service is: jobs deducted over HTTP beside the same rows written raw, the plan from
//! the store beside the plan from memory, how soon it starts and what it holds idle.
//!
//! `CAPFUL_PROGRAM` names the built program, `CAPFUL_TEST_POSTGRES` a PostgreSQL to work in;
//! `scripts/bench service` sets both.

#![allow(clippy::unwrap_used)]

mod http;
mod raw;
mod running;
mod shop;

use std::time::{Duration, Instant};

use capful_domain::Snapshot;
use capful_forecast::{PlanSettings, plan, to_json};

use crate::http::Client;
use crate::running::Running;
use crate::shop::{JOBS, finish_body};

/// Jobs that one client finishes, and that eight finish together.
const ALONE: usize = 400;
const TOGETHER: usize = 1200;
const CLIENTS: usize = 8;
/// Jobs deducted raw before the service's turn, and after it.
const RAW: usize = 400;
/// Plans of each kind.
const PLANS: u64 = 9;

fn main() {
    // `cargo test --all-targets` runs benches too; a debug build has nothing to measure.
    let Ok(program) = std::env::var("CAPFUL_PROGRAM") else { return };
    let postgres = std::env::var("CAPFUL_TEST_POSTGRES").ok();
    let place = tempfile::tempdir().unwrap();
    println!("A job of {} products, deducted             a job    of raw", shop::PRODUCTS);
    let file = format!("sqlite://{}", place.path().join("jobs.db").display());
    deduct("SQLite", &program, place.path(), &file);
    match &postgres {
        Some(url) => deduct("PostgreSQL", &program, place.path(), url),
        None => println!("PostgreSQL: none is named by CAPFUL_TEST_POSTGRES"),
    }
    let file = format!("sqlite://{}", place.path().join("demo.db").display());
    plans(&program, place.path(), &file);
}

/// One database: raw, one client, eight clients, raw again.
fn deduct(name: &str, program: &str, place: &std::path::Path, url: &str) {
    let folder = place.join(name);
    shop::write(&folder);
    let running = Running::start(program, url, &folder);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let before = runtime.block_on(raw::deduct(url, 0..RAW));
    let alone = finish(&running, 1, RAW..RAW + ALONE);
    let together = finish(&running, CLIENTS, RAW + ALONE..RAW + ALONE + TOGETHER);
    let after = runtime.block_on(raw::deduct(url, JOBS - RAW..JOBS));
    let raw = (before + after) / 2;
    let line = |what: &str, time: Duration| {
        let (ms, ratio) = (time.as_secs_f64() * 1e3, raw.as_secs_f64() / time.as_secs_f64());
        println!("{:<42}{ms:>7.3} ms{ratio:>8.2}", format!("{name}, {what}"));
    };
    line("raw on one connection", raw);
    line("1 client", alone);
    line(&format!("{CLIENTS} clients"), together);
    println!("{}", running.idle(name));
}

/// The time a job took, with this many clients at once.
fn finish(running: &Running, clients: usize, jobs: std::ops::Range<usize>) -> Duration {
    let number = u32::try_from(jobs.len()).unwrap();
    let all: Vec<usize> = jobs.collect();
    let body = finish_body();
    let begun = Instant::now();
    std::thread::scope(|scope| {
        for share in all.chunks(all.len().div_ceil(clients)) {
            let body = &body;
            scope.spawn(move || {
                let mut client = Client::new(&running.address, &running.token);
                for job in share {
                    let path = format!("/api/v1/jobs/J-{job}/finish");
                    let (status, answer) = client.post(&path, &format!("finish-{job}"), body);
                    assert_eq!(status, 200, "{answer}");
                }
            });
        }
    });
    begun.elapsed() / number
}

/// The plan of the demo shop: asked of the service, and made here from the same rows. In turns,
/// each with a seed of its own, so that none is given again.
fn plans(program: &str, place: &std::path::Path, url: &str) {
    let today = chrono::NaiveDate::from_ymd_opt(2026, 3, 4).unwrap();
    let folder = place.join("demo");
    let facts = capful_demo::demo_shop(today, 1);
    capful_folder::write(&facts, &folder).unwrap();
    let running = Running::start(program, url, &folder);
    let mut client = Client::new(&running.address, &running.token);
    let moment = facts.shop.start_of(today);
    let (mut asked, mut made) = (Vec::new(), Vec::new());
    for seed in 1..=PLANS {
        let begun = Instant::now();
        let path = format!("/api/v1/plan?as_of={today}&seed={seed}");
        let (status, theirs) = client.get(&path);
        asked.push(begun.elapsed());
        assert_eq!(status, 200, "{theirs}");
        let begun = Instant::now();
        let snapshot = Snapshot::of(&facts, moment);
        let ours = to_json(&plan(&snapshot, &PlanSettings::default(), seed)).unwrap();
        made.push(begun.elapsed());
        assert_eq!(ours, theirs, "the two plans differ");
    }
    let (asked, made) = (median(asked), median(made));
    let ratio = asked / made;
    println!("plan from memory {:>30.1} ms", made * 1e3);
    println!("plan from the store, over HTTP {:>16.1} ms    {ratio:.2} × from memory", asked * 1e3);
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64()
}
