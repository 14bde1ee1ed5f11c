//! `capful plan`: a shop folder in, its plan out.

use capful_domain::Snapshot;
use capful_forecast::{Plan, PlanSettings, plan};
use chrono::{DateTime, Utc};

use crate::answer::{Answer, Failure};
use crate::args::PlanArgs;
use crate::folder;
use crate::render::{Ink, View, open, screen};

/// The plan of a folder, on a screen, in part or as JSON.
///
/// # Errors
/// [`Failure`] where the folder cannot be read or has nothing of the name to open.
pub fn run(args: &PlanArgs, now: DateTime<Utc>, ink: Ink) -> Result<Answer, Failure> {
    let (snapshot, notes) = folder::snapshot(&args.folder, &args.report, now)?;
    let plan = plan(&snapshot, &PlanSettings::default(), args.seed);
    if args.report.json {
        return Ok(Answer::yes(json(&plan)?, notes));
    }
    let text = match &args.open {
        None => screen(&View::new(&snapshot.facts, &plan, ink)),
        Some(what) => opened(&snapshot, &plan, ink, what)?,
    };
    Ok(Answer::yes(text, notes))
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

/// The plan for programs: the same bytes wherever it is asked for.
///
/// # Errors
/// [`Failure::Json`] where it cannot be written, which no plan is known to cause.
pub fn json(value: &impl serde::Serialize) -> Result<String, Failure> {
    let mut text = serde_json::to_string_pretty(value)?;
    text.push('\n');
    Ok(text)
}
