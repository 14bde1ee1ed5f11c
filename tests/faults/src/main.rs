//! Runs rounds of faults and prints what they came to; `scripts/faults` starts it.

#![allow(clippy::unwrap_used)]

use std::process::ExitCode;
use std::time::Instant;

use capful_faults::figures::{Figures, table};
use capful_faults::kinds::{KINDS, Kind};
use capful_faults::postgres;
use capful_faults::stage::{Stage, built_program};
use clap::Parser;

/// Puts faults in the way of the running program, and holds what is left of the books against what
/// its clients were told.
#[derive(Debug, Parser)]
#[command(name = "scripts/faults")]
struct Args {
    /// The kinds of faults; without one, all of them
    kinds: Vec<String>,
    /// Faults of each kind
    #[arg(long, short = 'n', value_name = "N", default_value_t = 20)]
    faults: u64,
    /// Rounds of each kind, in place of faults
    #[arg(long, value_name = "N", conflicts_with = "faults")]
    rounds: Option<u64>,
    /// As many of each kind as before a release
    #[arg(long, conflicts_with_all = ["faults", "rounds"])]
    long: bool,
    /// The seed that everything is drawn from
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Lists the kinds
    #[arg(long)]
    list: bool,
}

fn main() -> ExitCode {
    let args = Args::parse();
    if args.list {
        for kind in KINDS {
            println!("{:<18}{}", kind.name, kind.what);
        }
        return ExitCode::SUCCESS;
    }
    let unknown = |name: &&String| KINDS.iter().all(|kind| kind.name != **name);
    if let Some(name) = args.kinds.iter().find(unknown) {
        eprintln!("error: no kind of fault is called {name}; --list says which there are");
        return ExitCode::from(2);
    }
    let wanted = |kind: &&Kind| args.kinds.is_empty() || args.kinds.iter().any(|k| k == kind.name);
    let stage = Stage::new(built_program());
    let mut rows: Vec<(&str, Figures)> = Vec::new();
    let kinds: Vec<Kind> = KINDS.iter().filter(wanted).copied().collect();
    for kind in &kinds {
        if kind.on_postgres && postgres::programs().is_none() {
            eprintln!("{}: passed over, PostgreSQL's programs are not here", kind.name);
            continue;
        }
        let begun = Instant::now();
        let figures = run(kind, &stage, &args);
        eprintln!("{}: {} faults in {:.0?}", kind.name, figures.faults, begun.elapsed());
        for finding in &figures.findings {
            eprintln!("  {finding}");
        }
        rows.push((kind.name, figures));
    }
    print!("{}", table(&rows));
    let is_well = rows.iter().all(|(_, figures)| figures.is_well());
    if is_well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn run(kind: &Kind, stage: &Stage, args: &Args) -> Figures {
    let Some(rounds) = args.rounds else {
        let faults = if args.long { kind.long } else { args.faults };
        return kind.rounds(stage, args.seed, faults);
    };
    let mut all = Figures::default();
    for round in 0..rounds {
        all += kind.rounds(stage, args.seed + round, kind.faults);
    }
    all
}
