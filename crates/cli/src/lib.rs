//! The capful program's commands: arguments in, an answer out. Parsing and printing only; what is
//! printed is worked out by the other crates.

mod answer;
pub mod args;
pub mod backtest_command;
pub mod backup_command;
pub mod check_command;
pub mod clock;
pub mod completions;
mod database;
pub mod demo_command;
pub mod erase_command;
pub mod export_command;
mod folder;
pub mod import_command;
mod logging;
pub mod migrate_command;
pub mod move_command;
mod nightly;
pub mod person_command;
pub mod plan_command;
mod progress;
mod remote;
pub mod render;
pub mod restore_command;
pub mod serve_command;
mod serving;
pub mod settings;
mod settings_file;
pub mod shelf;
mod signals;
pub mod token_command;

pub use answer::{Answer, Failure};
