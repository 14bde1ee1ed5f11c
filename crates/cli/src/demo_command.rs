//! `capful demo`: an invented shop in a folder, and its plan.

use std::path::Path;

use capful_domain::{Facts, Shop};
use chrono::{DateTime, NaiveDate, Utc};

use crate::answer::{Answer, Failure};
use crate::args::{DemoArgs, PlanArgs};
use crate::plan_command;
use crate::render::Ink;

/// Seed of the demo shop's history and of its plan.
const SEED: u64 = 1;

/// Stands first in `shop.toml`; the day that the shop was written for follows.
const MARK: &str = "# The demo shop as written for ";

/// Writes the demo shop, as if today were its last day, and prints its plan.
///
/// # Errors
/// [`Failure::WouldOverwrite`] where the folder holds something else, [`Failure::File`] where it
/// cannot be written.
pub fn run(args: &DemoArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let facts = demo_around(args, now);
    let today = facts.shop.day_of(moment(args, &facts.shop, now));
    if !args.force && !is_free(&args.folder)? {
        return Err(Failure::WouldOverwrite { folder: args.folder.clone() });
    }
    write(&args.folder, &facts, today)?;
    let plan = PlanArgs {
        folder: args.folder.clone(),
        seed: SEED,
        open: None,
        report: args.report.clone(),
    };
    let mut answer = plan_command::run(&plan, now, ink)?;
    if !args.report.json {
        answer.text = format!("{}\n{}", answer.text, next_steps(&args.folder));
    }
    Ok(answer)
}

fn moment(args: &DemoArgs, shop: &Shop, now: DateTime<Utc>) -> DateTime<Utc> {
    args.report.as_of.map_or(now, |as_of| as_of.moment(shop))
}

/// The demo shop whose today is the day that it is (or was asked to be) in its own zone.
fn demo_around(args: &DemoArgs, now: DateTime<Utc>) -> Facts {
    let facts = capful_demo::demo_shop(now.date_naive(), SEED);
    let today = facts.shop.day_of(moment(args, &facts.shop, now));
    if today == now.date_naive() { facts } else { capful_demo::demo_shop(today, SEED) }
}

/// Whether nothing is lost by writing: there is no such folder, or it is empty, or holds a demo
/// shop in which nothing was changed since it was written.
fn is_free(folder: &Path) -> Result<bool, Failure> {
    let failed = |error| Failure::File { path: folder.to_owned(), error };
    match std::fs::read_dir(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(true),
        Err(error) => Err(failed(error)),
        Ok(mut entries) => Ok(entries.next().is_none() || is_untouched_demo(folder)),
    }
}

fn is_untouched_demo(folder: &Path) -> bool {
    let Ok(settings) = std::fs::read_to_string(folder.join("shop.toml")) else { return false };
    let day = settings.lines().next().and_then(|line| line.strip_prefix(MARK));
    let Some(Ok(day)) = day.map(str::parse::<NaiveDate>) else { return false };
    let Ok(read) = capful_folder::read(folder) else { return false };
    read.warnings.is_empty() && read.facts == capful_demo::demo_shop(day, SEED)
}

fn write(folder: &Path, facts: &Facts, today: NaiveDate) -> Result<(), Failure> {
    let failed = |error| Failure::File { path: folder.to_owned(), error };
    std::fs::create_dir_all(folder).map_err(failed)?;
    capful_folder::write(facts, folder).map_err(failed)?;
    let path = folder.join("shop.toml");
    let marked = std::fs::read_to_string(&path)
        .and_then(|settings| std::fs::write(&path, format!("{MARK}{today}\n{settings}")));
    marked.map_err(|error| Failure::File { path, error })
}

fn next_steps(folder: &Path) -> String {
    let folder = folder.display();
    // As it was called, so that the lines can be copied.
    let capful = std::env::args().next().unwrap_or_else(|| "capful".to_owned());
    format!(
        "This is an invented shop, written to {folder}. Try next:\n\
         \x20 {capful} plan {folder} --open order\n\
         \x20 {capful} check {folder}\n\
         and change a number in {folder}/counts.csv, then plan again.\n"
    )
}
