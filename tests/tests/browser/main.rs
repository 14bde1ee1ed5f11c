//! What people see and do in a browser. `scripts/browser` runs these beside one.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod pages;
mod service;
mod stage;
mod stage_itself;
mod stage_offline;
mod story_every_page;
mod story_first_order;
mod story_first_run;
mod story_helper;
mod story_jobs;
mod story_keys;
mod story_orders;
mod story_plain;
mod story_policy;
mod story_scale;
mod story_sessions;
mod story_setup;
mod story_shelf;
mod story_today;
mod story_tuesday;
