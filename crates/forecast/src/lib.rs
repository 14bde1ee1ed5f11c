//! From what happened to what to do: usage, arrivals, lead times, demand and the weekly order.
//!
//! Pure: no clock, file, network or database; all randomness comes from one seed.

pub mod baseline;
pub mod inventory;
pub mod plan;
mod planner;

pub use plan::Plan;
pub use planner::{PlanSettings, plan};
