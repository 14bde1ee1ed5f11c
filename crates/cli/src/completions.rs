//! Scripts that complete the commands in a shell.

use clap::CommandFactory;
use clap_complete::{Shell, generate};

use crate::answer::Answer;
use crate::args::Cli;

/// The script for one shell.
#[must_use]
pub fn of(shell: Shell) -> Answer {
    let mut script = Vec::new();
    generate(shell, &mut Cli::command(), "capful", &mut script);
    Answer::yes(String::from_utf8_lossy(&script).into_owned(), Vec::new())
}
