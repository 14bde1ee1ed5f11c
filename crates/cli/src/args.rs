//! What can be written on the command line.

use std::path::PathBuf;

use capful_domain::AsOf;
use clap::{ArgGroup, Args, Parser, Subcommand};
use clap_complete::Shell;

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
    /// How the plan would have done in past weeks: what it foretold, and what its list would cost
    Backtest(BacktestArgs),
    /// Keep a shop in a database and answer over HTTP
    Serve(ServeArgs),
    /// Take over what is new in a shop folder: all of it or nothing
    Import(ImportArgs),
    /// Write a shop out as a folder
    Export(ExportArgs),
    /// Take a vehicle's words out of the database; the jobs and the books stay
    Erase(EraseArgs),
    /// Copy a database into one file, whether a service works on it or not; or look a copy over
    Backup(BackupArgs),
    /// Put a copy of a database in its place
    Restore(RestoreArgs),
    /// Move a whole database into an empty one, such as from SQLite to PostgreSQL
    Move(MoveArgs),
    /// Bring a database's tables up to this version
    Migrate(MigrateArgs),
    /// Make, list and revoke the tokens that programs speak with
    #[command(subcommand)]
    Token(TokenCommand),
    /// Add and list the people who sign in, and set their passwords
    #[command(subcommand)]
    Person(PersonCommand),
    /// Write an invented shop with 18 months of history into a folder, print its plan, and serve it
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

/// Where settings are read, and the database that they name.
#[derive(Debug, Clone, Default, Args)]
pub struct DatabaseArgs {
    /// The settings' file [default: capful.toml in this directory, where it is there]
    #[arg(long, value_name = "FILE", env = "CAPFUL_CONFIG")]
    pub config: Option<PathBuf>,
    /// The database: sqlite://FILE or postgres://… [default: sqlite://capful.db]
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
}

/// The database that the settings name, and which of its shops.
#[derive(Debug, Clone, Default, Args)]
pub struct ShopArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub database: DatabaseArgs,
    /// The shop, by its name or its id, where the database holds several
    #[arg(long, value_name = "SHOP")]
    pub shop: Option<String>,
}

/// A running service to speak to.
#[derive(Debug, Clone, Default, Args)]
pub struct ServerArgs {
    /// Speak to a running service, such as http://127.0.0.1:8080
    #[arg(long, value_name = "URL")]
    pub server: Option<String>,
    /// The token to speak with
    #[arg(long, value_name = "TOKEN", env = "CAPFUL_TOKEN", hide_env_values = true)]
    pub token: Option<String>,
}

/// `capful plan`
#[derive(Debug, Clone, Args)]
pub struct PlanArgs {
    /// The shop folder
    #[arg(required_unless_present = "server", conflicts_with = "server")]
    pub folder: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub server: ServerArgs,
    /// The settings' file [default: capful.toml in this directory, where it is there]
    #[arg(long, value_name = "FILE", env = "CAPFUL_CONFIG")]
    pub config: Option<PathBuf>,
    /// Seed of the futures that are drawn; the same seed gives the same plan [default: 1]
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// Show one part in full: order, readiness, going-off, products, usage, warnings, or the id of
    /// a product or a job
    #[arg(long, value_name = "WHAT", conflicts_with = "json")]
    pub open: Option<String>,
    /// Draw usage and each product's demand into SVG files in a directory, which is made
    #[arg(long, value_name = "DIR")]
    pub picture: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

/// `capful check`
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    /// The shop folder; without one, the database
    #[arg(conflicts_with_all = ["database", "shop"])]
    pub folder: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
    /// Show the containers of one product
    #[arg(long, value_name = "PRODUCT", conflicts_with = "json")]
    pub open: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

/// `capful backtest`
#[derive(Debug, Clone, Args)]
pub struct BacktestArgs {
    /// The shop folder; without one, the database
    #[arg(conflicts_with_all = ["database", "shop"])]
    pub folder: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
    /// Past weeks to replay, the latest ones
    #[arg(long, value_name = "N", default_value_t = 26)]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=520))]
    pub weeks: u32,
    /// Seed of the futures that are drawn; the same seed gives the same answer [default: 1]
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// Draw it into an SVG file
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub report: Report,
}

/// `capful serve`
#[derive(Debug, Clone, Args)]
pub struct ServeArgs {
    /// Where to listen: an address and a port; port 0 takes a free one [default: 127.0.0.1:8080]
    #[arg(long, value_name = "ADDRESS")]
    pub listen: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: DatabaseArgs,
}

/// `capful import`
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("one place").args(["server", "database"])))]
#[command(group(ArgGroup::new("one shop").args(["server", "shop"])))]
pub struct ImportArgs {
    /// The shop folder
    pub folder: PathBuf,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub server: ServerArgs,
}

/// `capful export`
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("one place").args(["server", "database"])))]
#[command(group(ArgGroup::new("one shop").args(["server", "shop"])))]
pub struct ExportArgs {
    /// Where to write it
    pub folder: PathBuf,
    /// Replace the shop files of a folder that is not empty
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub server: ServerArgs,
}

/// `capful erase`
#[derive(Debug, Clone, Args)]
pub struct EraseArgs {
    /// The vehicle, with the words that jobs name it by; capitals do not matter
    #[arg(long, value_name = "TEXT")]
    pub vehicle: String,
    /// Erase it; without this, the jobs that name it are listed and nothing is changed
    #[arg(long)]
    pub yes: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful backup`
#[derive(Debug, Clone, Args)]
pub struct BackupArgs {
    /// The copy
    pub file: PathBuf,
    /// Look a copy over that was made before: its checksum, the file, and the books in it
    #[arg(long, conflicts_with_all = ["force", "database", "config"])]
    pub verify: bool,
    /// Replace the file where it is there already
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: DatabaseArgs,
}

/// `capful restore`
#[derive(Debug, Clone, Args)]
pub struct RestoreArgs {
    /// The copy
    pub file: PathBuf,
    /// Replace an SQLite database that is not empty; it is kept beside under a name with the time
    #[arg(long)]
    pub force: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: DatabaseArgs,
}

/// `capful move`
#[derive(Debug, Clone, Args)]
pub struct MoveArgs {
    /// The database to read, which stays as it is: sqlite://FILE or postgres://…
    #[arg(long, value_name = "URL")]
    pub from: String,
    /// The database to write, which must be empty; a file is made where there is none
    #[arg(long, value_name = "URL")]
    pub to: String,
}

/// `capful migrate`
#[derive(Debug, Clone, Args)]
pub struct MigrateArgs {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: DatabaseArgs,
}

/// `capful token`
#[derive(Debug, Clone, Subcommand)]
pub enum TokenCommand {
    /// Make a token and print it: it is shown this once
    Create(TokenCreateArgs),
    /// List the tokens, without their texts
    List(TokenListArgs),
    /// End a token
    Revoke(TokenRevokeArgs),
}

/// `capful token create`
#[derive(Debug, Clone, Args)]
pub struct TokenCreateArgs {
    /// What it allows, each more than the one before: to look, to write down what happens, to set
    /// up
    #[arg(long, value_parser = ["read", "shelf", "setup"])]
    pub scope: String,
    /// What it is for
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub label: String,
    /// Days until it ends by itself; without it, it does not
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=36_500))]
    pub days: Option<u32>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful token list`
#[derive(Debug, Clone, Args)]
pub struct TokenListArgs {
    /// Print JSON for programs
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful token revoke`
#[derive(Debug, Clone, Args)]
pub struct TokenRevokeArgs {
    /// Its id, as `capful token list` shows it
    pub id: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful person`
#[derive(Debug, Clone, Subcommand)]
pub enum PersonCommand {
    /// Let somebody sign in; the password is asked for, or read from standard input
    Add(PersonAddArgs),
    /// List the people, without their passwords
    List(PersonListArgs),
    /// Set somebody's password anew, which signs them out everywhere
    Password(PersonPasswordArgs),
    /// Let somebody try again at once who is kept waiting for wrong passwords
    Unlock(PersonUnlockArgs),
}

/// `capful person add`
#[derive(Debug, Clone, Args)]
pub struct PersonAddArgs {
    /// What they sign in with
    pub sign_in: String,
    /// What they are called
    #[arg(long, value_name = "TEXT")]
    pub name: String,
    /// What they may do: an owner sets up, and sees costs and people; a helper does neither
    #[arg(long, value_parser = ["owner", "helper"])]
    pub role: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful person list`
#[derive(Debug, Clone, Args)]
pub struct PersonListArgs {
    /// Print JSON for programs
    #[arg(long)]
    pub json: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful person password`
#[derive(Debug, Clone, Args)]
pub struct PersonPasswordArgs {
    /// What they sign in with
    pub sign_in: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
}

/// `capful person unlock`
#[derive(Debug, Clone, Args)]
pub struct PersonUnlockArgs {
    /// What they sign in with
    pub sign_in: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub place: ShopArgs,
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
    /// Write the folder and print the plan, and no more; --as-of and --json do no more either
    #[arg(long)]
    pub no_serve: bool,
    /// Where to listen: an address and a port; port 0 takes a free one [default: 127.0.0.1:8080]
    #[arg(long, value_name = "ADDRESS", conflicts_with = "no_serve")]
    pub listen: Option<String>,
    /// The settings' file [default: capful.toml in this directory, where it is there]
    #[arg(long, value_name = "FILE", env = "CAPFUL_CONFIG")]
    pub config: Option<PathBuf>,
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
