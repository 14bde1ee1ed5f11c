//! A shop folder as a snapshot of one moment.

use std::path::Path;

use capful_domain::Snapshot;
use chrono::{DateTime, Utc};

use crate::answer::{Failure, oddities};
use crate::args::Report;

/// What the folder said at the moment that the report asks for, and what is odd about it.
pub(crate) fn snapshot(
    folder: &Path,
    report: &Report,
    now: DateTime<Utc>,
) -> Result<(Snapshot, Vec<String>), Failure> {
    let read = capful_folder::read(folder).map_err(|errors| Failure::Folder { errors })?;
    let moment = report.as_of.map_or(now, |as_of| as_of.moment(&read.facts.shop));
    let notes = oddities(&read.warnings, read.more_warnings);
    Ok((Snapshot::of(&read.facts, moment), notes))
}
