//! Jobs that are booked and not done.

use capful_domain::Id;

use crate::learn::index::UnitOfWork;

/// A job that is booked and not done.
#[derive(Debug, Clone)]
pub(crate) struct BookedJob {
    /// Place in the snapshot's jobs.
    pub place: usize,
    pub id: Id,
    /// Days ahead; a job that should have been done is taken to come today.
    pub day: i32,
    /// What it still takes.
    pub units: Vec<UnitOfWork>,
    pub stall_cost: f64,
    pub started: bool,
    /// Days that it is late.
    pub late_days: i64,
}
