//! `capful demo`: an invented shop in a folder, its plan, and a service that keeps it.

use std::path::Path;

use capful_domain::{Facts, Shop};
use capful_store::Scope;
use chrono::{DateTime, NaiveDate, Utc};

use crate::answer::{Answer, Failure};
use crate::args::{DemoArgs, PlanArgs, ServerArgs};
use crate::render::Ink;
use crate::settings::{Flags, Settings};
use crate::{database, logging, plan_command, serving, token_command};

/// Seed of the demo shop's history and of its plan.
const SEED: u64 = 1;

/// Who owns the demo shop, and the password.
const OWNER: &str = "owner";
const PASSWORD: &str = "two gulls at low tide";

/// Stands first in `shop.toml`; the day that the shop was written for follows.
const MARK: &str = "# The demo shop as written for ";

/// Writes the demo shop, as if today were its last day, and prints its plan; then serves it until
/// it is asked to stop, from a database of its own that ends with it.
///
/// # Errors
/// [`Failure::WouldOverwrite`] where the folder holds something else, [`Failure::File`] where it
/// cannot be written, [`Failure::Serving`] where the service cannot start.
pub fn run(args: &DemoArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let facts = demo_around(args, now);
    let today = facts.shop.day_of(moment(args, &facts.shop, now));
    if !args.force && !is_free(&args.folder)? {
        return Err(Failure::WouldOverwrite { folder: args.folder.clone() });
    }
    write(&args.folder, &facts, today)?;
    let plan = PlanArgs {
        picture: None,
        folder: Some(args.folder.clone()),
        server: ServerArgs::default(),
        config: args.config.clone(),
        seed: Some(SEED),
        open: None,
        report: args.report.clone(),
    };
    let mut answer = plan_command::run(&plan, now, ink)?;
    if args.report.json {
        return Ok(answer);
    }
    answer.text = format!("{}\n{}", answer.text, next_steps(&args.folder));
    if args.no_serve || args.report.as_of.is_some() {
        return Ok(answer);
    }
    serving::say(&answer.text)?;
    database::wait(serve(args, facts, now))?;
    Ok(Answer::yes(String::new(), answer.notes))
}

/// Serves the demo shop from a fresh database.
async fn serve(args: &DemoArgs, facts: Facts, now: DateTime<Utc>) -> Result<(), Failure> {
    let in_temp = |error| Failure::File { path: std::env::temp_dir(), error };
    let place = tempfile::Builder::new().prefix("capful-demo-").tempdir().map_err(in_temp)?;
    let database = format!("sqlite://{}", place.path().join("shop.db").display());
    let flags = Flags { database: Some(database), listen: args.listen.clone(), ..Flags::default() };
    // The demo shop is no shop's own: it is never copied to where a shop's copies lie.
    let settings = Settings::read(args.config.as_deref(), &flags)?;
    let settings = Settings { backup_dir: String::new(), ..settings };
    logging::begin(&settings);
    let listener = serving::listen(&settings.listen).await?;
    let store = database::open(&settings).await?;
    database::import(&store, None, facts, now).await?;
    let (shop, _) = database::shop(&store, None).await?;
    let (token, _) = token_command::make(&store, shop, Scope::Setup, "demo", None, now).await?;
    database::add_owner(&store, shop, OWNER, PASSWORD, now).await?;
    serving::say(&where_to_look(
        &serving::reached(&listener, &settings)?,
        &token,
        &settings.database,
    ))?;
    serving::serve(store, listener, &settings).await
}

fn where_to_look(address: &str, token: &str, database: &str) -> String {
    let capful = serving::program();
    format!(
        "\nThe same shop is served at {address} until ctrl-c, from a database that ends with it.\n\
         Open {address} in a browser and sign in as `{OWNER}` with the password `{PASSWORD}`.\n\
         Everything that programs can ask stands at {address}/api/docs. In another terminal:\n\
         \x20 export CAPFUL={address} CAPFUL_TOKEN={token}\n\
         \x20 curl -H \"Authorization: Bearer $CAPFUL_TOKEN\" $CAPFUL/api/v1/weekly-order\n\
         \x20 {capful} plan --server $CAPFUL\n\
         \x20 {capful} check --database {database}\n"
    )
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
    let capful = serving::program();
    format!(
        "This is an invented shop, written to {folder}. Try next:\n\
         \x20 {capful} plan {folder} --open order\n\
         \x20 {capful} check {folder}\n\
         and change a number in {folder}/counts.csv, then plan again.\n"
    )
}
