//! From what happened to what to do: usage, arrivals, lead times, demand and the weekly order.
//!
//! Pure: no clock, file, network or database; all randomness comes from one seed.
//!
//! One folder for each stage, each knowing those before it: `statistics` and `inventory`, `plan`
//! (types of the answer), `learn`, `simulate`, `decide`, `planner`, `backtest`.

pub mod backtest;
mod decide;
pub mod inventory;
mod learn;
pub mod plan;
mod planner;
mod simulate;
mod statistics;

pub use backtest::baseline;
pub use decide::sums;
pub use learn::fitter;
pub use learn::given_usage::GivenUsage;
pub use learn::shop_usage::{Usage, expected_pours};
pub use plan::Plan;
pub use plan::json::to_json;
pub use planner::settings::PlanSettings;
pub use planner::{Planner, plan, plan_given_usage};
