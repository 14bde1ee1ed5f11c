//! What can be written on the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use clap_complete::Shell;

use crate::clock::AsOf;

/// The whole command line.
#[derive(Debug, Parser)]
#[command(
    name = "capful",
    version,
    about = "Keeps the shelf of a detailing shop from stalling jobs"
)]
#[command(
    after_help = "Exit codes: 0 done; 1 the answer is no, or the input is wrong (each error \
                        on its own line on standard error); 2 wrong usage."
)]
#[allow(missing_docs)]
pub struct Cli {
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// What to order this week and why, which jobs the shelf carries, what goes off
    Plan(PlanArgs),
    /// Add every container up again from the ledger and list what the shelf holds
    Check(CheckArgs),
    /// Write an invented shop with 18 months of history into a folder and print its plan
    Demo(DemoArgs),
    /// Print a script that completes these commands in a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
}

/// What every command that reports understands.
#[derive(Debug, Clone, Default, Args)]
pub struct Report {
    /// Answer as it would have been then: a day (its first moment), or a time; without it, now
    #[arg(long, value_name = "DATE")]
    pub as_of: Option<AsOf>,
    /// Print JSON for programs
    #[arg(long)]
    pub json: bool,
}

/// `capful plan`
#[derive(Debug, Clone, Args)]
pub struct PlanArgs {
    /// The shop folder
    pub folder: PathBuf,
    /// Seed of the futures that are drawn; the same seed gives the same plan
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Show one part in full: order, readiness, going-off, products, usage, warnings, or the id of
    /// a product or a job
    #[arg(long, value_name = "WHAT", conflicts_with = "json")]
    pub open: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

/// `capful check`
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// The shop folder
    pub folder: PathBuf,
    /// Show the containers of one product
    #[arg(long, value_name = "PRODUCT", conflicts_with = "json")]
    pub open: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

/// `capful demo`
#[derive(Debug, Clone, Args)]
pub struct DemoArgs {
    /// Where to write it
    #[arg(default_value = "demo-shop")]
    pub folder: PathBuf,
    /// Replace the shop files of a folder that holds something else
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn clap_finds_nothing_wrong_with_the_command_line() {
        Cli::command().debug_assert();
    }
}
