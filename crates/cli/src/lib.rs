//! The capful program's commands: arguments in, an answer out. Parsing and printing only; what is
//! printed is worked out by the other crates.

mod answer;
pub mod args;
pub mod check_command;
pub mod clock;
pub mod completions;
pub mod demo_command;
mod folder;
pub mod plan_command;
pub mod render;
pub mod shelf;

pub use answer::{Answer, Failure};
