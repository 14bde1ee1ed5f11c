//! What a shop's history teaches: usage, arrivals of jobs, lead times.

pub(crate) mod arrivals;
pub(crate) mod booked_job;
mod changed_together;
pub mod fitter;
pub(crate) mod given_usage;
pub(crate) mod history;
pub(crate) mod index;
mod lasting_change;
pub(crate) mod lead_time;
pub(crate) mod learned_model;
pub(crate) mod observations;
pub(crate) mod overbooked;
pub(crate) mod random;
pub(crate) mod shop_usage;
pub(crate) mod usage;
pub(crate) mod usage_rows;
