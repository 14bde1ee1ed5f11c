//! Jobs: booked, moved, called off, looked at; what they take and what that costs; where a lot
//! went.

mod after;
mod book;
mod calendar;
mod change;
mod costs;
mod erase;
mod every;
mod fields;
mod lacks;
mod one;
mod outlook;
mod pour;
mod record;
mod trace;
mod usage;

use capful_domain::{Job, VehicleSize, Word};

use super::say::words;
use crate::known::Known;
use crate::route_table::{RouteTable, get, post};

/// The pages of this part.
pub(crate) fn routes() -> RouteTable {
    RouteTable::new()
        .route("/jobs", get(calendar::get))
        .route("/jobs/new", get(book::get).post(book::post))
        .route("/jobs/{id}", get(one::get).post(change::post))
        .route("/jobs/{id}/start", post(change::start))
        .route("/jobs/{id}/cancel", post(change::cancel))
        .route("/jobs/{id}/pour", post(pour::post))
        .route("/jobs/{id}/vehicle", get(erase::get).post(erase::post))
        .route("/jobs/{id}/record", get(record::get))
        .route("/usage", get(usage::get).post(usage::post))
        .route("/costs", get(costs::get))
        .route("/trace/lots/{lot}", get(trace::get))
}

/// What a job is: its types by their names.
fn what(job: &Job, known: &Known) -> String {
    let names = job.job_types.iter().map(|id| known.job_type_name(id));
    names.collect::<Vec<_>>().join(", ")
}

/// The vehicle's size and condition.
fn shape(job: &Job) -> String {
    let size = size_name(job.size);
    let grade = job.condition.grade();
    words().say("job-vehicle").with("size", size).with("condition", grade).to_string()
}

fn size_name(size: VehicleSize) -> String {
    words().say(&format!("size-{}", size.word())).to_string()
}

/// How far a job has come.
fn status(job: &Job) -> String {
    words().say(&format!("job-{}", job.status.word())).to_string()
}
