//! What people see and do in a browser. `scripts/browser` runs these beside one.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod service;
mod stage;
mod stage_itself;
mod stage_offline;
mod story_first_run;
mod story_jobs;
mod story_orders;
mod story_setup;
mod story_shelf;
mod story_today;
