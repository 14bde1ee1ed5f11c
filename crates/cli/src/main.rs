//! The capful program.

use std::io::{ErrorKind, Write, stderr, stdout};
use std::process::ExitCode;

use capful_cli::args::{Cli, Command};
use capful_cli::render::Ink;
use capful_cli::{Answer, Failure, clock};
use capful_cli::{
    backtest_command, backup_command, check_command, completions, demo_command, erase_command,
    export_command, import_command, migrate_command, move_command, person_command, plan_command,
    restore_command, serve_command, token_command,
};
use clap::Parser;

fn main() -> ExitCode {
    finish(&answer(&Cli::parse().command).unwrap_or_else(Answer::from))
}

fn answer(command: &Command) -> Result<Answer, Failure> {
    let (now, ink) = (clock::now(), Ink::of_terminal());
    match command {
        Command::Plan(args) => plan_command::run(args, now, ink),
        Command::Check(args) => check_command::run(args, now, ink),
        Command::Backtest(args) => backtest_command::run(args, now, ink),
        Command::Serve(args) => serve_command::run(args),
        Command::Import(args) => import_command::run(args, now),
        Command::Export(args) => export_command::run(args),
        Command::Erase(args) => erase_command::run(args, now),
        Command::Backup(args) => backup_command::run(args),
        Command::Restore(args) => restore_command::run(args, now),
        Command::Move(args) => move_command::run(args, now),
        Command::Migrate(args) => migrate_command::run(args),
        Command::Token(command) => token_command::run(command, now, ink),
        Command::Person(command) => person_command::run(command, now, ink),
        Command::Demo(args) => demo_command::run(args, now, ink),
        Command::Completions { shell } => Ok(completions::of(*shell)),
    }
}

/// Says the answer. A reader that has seen enough (`capful plan | head`) is no error.
fn finish(answer: &Answer) -> ExitCode {
    for line in &answer.notes {
        if writeln!(stderr(), "{line}").is_err() {
            break;
        }
    }
    match stdout().write_all(answer.text.as_bytes()).and_then(|()| stdout().flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => ExitCode::from(1),
        _ => ExitCode::from(u8::from(!answer.yes)),
    }
}
