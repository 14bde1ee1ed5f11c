//! `capful backtest`: how the plan would have done in past weeks.

use std::path::Path;

use capful_domain::Facts;
use capful_forecast::backtest::{BacktestSettings, backtest};
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure, oddities};
use crate::args::BacktestArgs;
use crate::progress::Progress;
use crate::render::{Ink, backtest_screen};
use crate::settings::{Flags, Settings};
use crate::{database, plan_command};

/// Replays the past weeks of a folder or of the database.
///
/// # Errors
/// [`Failure`] where the folder or the database cannot be read, there is too little history, or the
/// picture cannot be written.
pub fn run(args: &BacktestArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let place = &args.place.database;
    let flags = Flags { seed: args.seed, database: place.database.clone(), ..Flags::default() };
    let settings = Settings::read(place.config.as_deref(), &flags)?;
    let progress = Progress::begin("reading the shop");
    let (facts, notes) = match &args.folder {
        Some(folder) => of_folder(folder)?,
        None => (of_database(&settings, args, now)?, Vec::new()),
    };
    let moment = args.report.as_of.map_or(now, |as_of| as_of.moment(&facts.shop));
    let how = BacktestSettings { weeks: args.weeks, plan: settings.plan() };
    progress.now("replaying past weeks");
    let told = backtest(&facts, moment, &how, settings.seed, &|done, of| progress.step(done, of))
        .map_err(|short| Failure::Refused(short.to_string()))?;
    drop(progress);
    if let Some(path) = &args.picture {
        write(path, &capful_pictures::backtest(&told))?;
    }
    let text = match args.report.json {
        true => plan_command::json(&told)?,
        false => backtest_screen(&facts, &told, ink),
    };
    Ok(Answer::yes(text, notes))
}

fn of_folder(folder: &Path) -> Result<(Facts, Vec<String>), Failure> {
    let read = capful_folder::read(folder).map_err(|errors| Failure::Folder { errors })?;
    Ok((read.facts, oddities(&read.warnings, read.more_warnings)))
}

/// Everything that the database knew then.
fn of_database(
    settings: &Settings,
    args: &BacktestArgs,
    now: DateTime<Utc>,
) -> Result<Facts, Failure> {
    database::wait(async {
        let store = database::open_to_read(settings).await?;
        let (id, shop) = database::shop(&store, args.place.shop.as_deref()).await?;
        let moment = args.report.as_of.map_or(now, |as_of| as_of.moment(&shop));
        let facts = store.facts(id, Some(moment)).await?;
        store.close().await;
        Ok(facts)
    })
}

/// Writes a picture into a file.
///
/// # Errors
/// [`Failure::File`] where that cannot be done.
pub(crate) fn write(path: &Path, picture: &str) -> Result<(), Failure> {
    let failed = |error| Failure::File { path: path.to_owned(), error };
    std::fs::write(path, picture).map_err(failed)
}
