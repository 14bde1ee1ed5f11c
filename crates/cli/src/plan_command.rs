//! `capful plan`: a shop folder in, its plan out; or what a running service has.

use std::path::Path;

use capful_domain::{AsOf, Snapshot};
use capful_forecast::plan::UsageRow;
use capful_forecast::{Plan, plan};
use capful_pictures::Names;
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::PlanArgs;
use crate::backtest_command::write;
use crate::render::{Ink, View, open, screen};
use crate::settings::{Flags, Settings};
use crate::{database, folder, remote};

/// The plan of a folder or a service, on a screen, in part or as JSON.
///
/// # Errors
/// [`Failure`] where the folder cannot be read, the service does not answer, or nothing has the
/// name to open.
pub fn run(args: &PlanArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let flags = Flags { seed: args.seed, ..Flags::default() };
    let settings = Settings::read(args.config.as_deref(), &flags)?;
    match (&args.folder, remote::Service::of(&args.server)?) {
        (_, Some(service)) => of_service(args, &service, &settings, now, ink),
        (Some(folder), None) => of_folder(args, folder, &settings, now, ink),
        (None, None) => Err(Failure::Refused("name a shop folder, or a --server".to_owned())),
    }
}

fn of_folder(
    args: &PlanArgs,
    folder: &Path,
    settings: &Settings,
    now: DateTime<Utc>,
    ink: Ink,
) -> Result<Answer, Failure> {
    let (snapshot, notes) = folder::snapshot(folder, &args.report, now)?;
    let plan = plan(&snapshot, &settings.plan(), settings.seed);
    Ok(Answer::yes(said(args, &snapshot, &plan, ink)?, notes))
}

/// As JSON the service's own bytes. For the eye the plan is drawn here, from the service's rows.
fn of_service(
    args: &PlanArgs,
    service: &remote::Service,
    settings: &Settings,
    now: DateTime<Utc>,
    ink: Ink,
) -> Result<Answer, Failure> {
    if args.report.json {
        let theirs = database::wait(service.plan(args.report.as_of, settings.seed))?;
        return Ok(Answer::yes(theirs, Vec::new()));
    }
    // Both sides speak of the same moment, whatever their clocks say.
    let as_of = args.report.as_of.unwrap_or(AsOf::Moment(now));
    let (facts, theirs) = database::wait(async {
        Ok((service.export().await?, service.plan(Some(as_of), settings.seed).await?))
    })?;
    let snapshot = Snapshot::of(&facts, as_of.moment(&facts.shop));
    let plan = plan(&snapshot, &settings.plan(), settings.seed);
    let mut notes = Vec::new();
    if json(&plan)? != theirs {
        let note = "warning: the service itself plans otherwise: its settings or its version are \
                    not the ones here, or a row was reversed since. --json asks for its own plan";
        notes.push(note.to_owned());
    }
    Ok(Answer::yes(said(args, &snapshot, &plan, ink)?, notes))
}

/// The plan as it was asked for.
fn said(args: &PlanArgs, snapshot: &Snapshot, plan: &Plan, ink: Ink) -> Result<String, Failure> {
    if let Some(directory) = &args.picture {
        draw(directory, snapshot, plan)?;
    }
    match &args.open {
        _ if args.report.json => json(plan),
        None => Ok(screen(&View::new(&snapshot.facts, plan, ink))),
        Some(what) => opened(snapshot, plan, ink, what),
    }
}

/// Draws the usage of each job type and the demand of each product, each into a file of its own.
fn draw(directory: &Path, snapshot: &Snapshot, plan: &Plan) -> Result<(), Failure> {
    let failed = |error| Failure::File { path: directory.to_owned(), error };
    std::fs::create_dir_all(directory).map_err(failed)?;
    let names = Names::of(&snapshot.facts);
    for outlook in &plan.products {
        let path = directory.join(format!("demand-{}.svg", outlook.product));
        write(&path, &capful_pictures::demand(outlook, &names))?;
    }
    let usual: Vec<UsageRow> = plan
        .usage
        .iter()
        .filter(|row| row.size == "medium" && row.condition == 3)
        .cloned()
        .collect();
    for job_type in &snapshot.facts.job_types {
        let path = directory.join(format!("usage-{}.svg", job_type.id));
        write(&path, &capful_pictures::usage(&usual, job_type.id.as_str(), &names))?;
    }
    Ok(())
}

fn opened(snapshot: &Snapshot, plan: &Plan, ink: Ink, what: &str) -> Result<String, Failure> {
    let view = View::new(&snapshot.facts, plan, ink);
    open(&view, what).ok_or_else(|| Failure::NothingCalled {
        place: "this plan",
        what: what.to_owned(),
        known: "try order, readiness, going-off, products, usage or warnings, or the id of a \
                product or of a job to come"
            .to_owned(),
    })
}

/// An answer for programs: a plan is the same bytes wherever it is asked for.
///
/// # Errors
/// [`Failure::Json`] where it cannot be written, which no plan is known to cause.
pub fn json(value: &impl serde::Serialize) -> Result<String, Failure> {
    Ok(capful_forecast::to_json(value)?)
}
