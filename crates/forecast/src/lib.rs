//! From what happened to what to do: usage, arrivals, lead times, demand and the weekly order.
//!
//! Pure: no clock, file, network or database; all randomness comes from one seed.

mod arrivals;
pub mod backtest;
pub mod baseline;
mod changed_together;
mod choose;
mod doubt;
pub mod fitter;
mod futures;
mod going_off;
mod history;
mod index;
pub mod inventory;
mod json;
mod lack;
mod last;
mod lasting_change;
mod lead_time;
mod line_parts;
mod observations;
mod order_cost;
mod outlook;
mod overbooked;
pub mod plan;
mod planner;
mod prospect;
mod random;
mod readiness;
mod shelf;
mod stock;
pub mod sums;
mod supply;
mod text;
mod told;
mod usage;
mod usage_rows;
mod walk;
mod walked;
mod warnings;
mod weekly_order;

pub use json::to_json;
pub use plan::Plan;
pub use planner::{PlanSettings, Planner, Usage, expected_pours, plan, plan_told};
pub use told::Told;
