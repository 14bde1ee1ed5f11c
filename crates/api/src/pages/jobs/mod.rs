//! Jobs: booked, moved, called off, looked at; what they take and what that costs; where a lot
//! went.

mod after;
mod book;
mod calendar;
mod change;
mod costs;
mod every;
mod fields;
mod lacks;
mod one;
mod outlook;
mod pour;
mod record;
mod trace;
mod usage;

use axum::Router;
use axum::routing::{get, post};
use capful_domain::{Job, VehicleSize, Word};

use super::say::words;
use crate::api::Api;
use crate::known::Known;

/// The pages of this part.
pub(crate) fn routes() -> Router<Api> {
    Router::new()
        .route("/jobs", get(calendar::get))
        .route("/jobs/new", get(book::get).post(book::post))
        .route("/jobs/{id}", get(one::get).post(change::post))
        .route("/jobs/{id}/start", post(change::start))
        .route("/jobs/{id}/cancel", post(change::cancel))
        .route("/jobs/{id}/pour", post(pour::post))
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

/// A text as one part of a path.
fn path_part(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    let part =
        |byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") };
    text.bytes().map(part).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lot_of_any_name_is_one_part_of_a_path() {
        assert_eq!(path_part("B22-31"), "B22-31");
        assert_eq!(path_part("lot 7/é?"), "lot%207%2F%C3%A9%3F");
    }
}
