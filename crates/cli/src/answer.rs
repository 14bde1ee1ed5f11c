//! What a command answers, and what keeps it from answering.

use std::path::PathBuf;

use capful_folder::Warning;
use capful_store::StoreError;

/// What a command says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// For standard output.
    pub text: String,
    /// For standard error, line by line.
    pub notes: Vec<String>,
    /// Whether the answer is yes: exit code 0, else 1.
    pub yes: bool,
}

impl Answer {
    /// A text that is good news or no news.
    #[must_use]
    pub const fn yes(text: String, notes: Vec<String>) -> Self {
        Self { text, notes, yes: true }
    }
}

/// Why there is no answer. Each is told on standard error and ends the program with code 1; wrong
/// usage never comes this far.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Failure {
    /// The folder cannot be read as a shop; every reason is listed.
    #[error("{errors}")]
    Folder {
        /// What is wrong.
        errors: capful_folder::Errors,
    },
    /// `--open` names nothing that there is.
    #[error("nothing in {place} is called {what:?}: {known}")]
    NothingCalled {
        /// Where it was looked for.
        place: &'static str,
        /// The name.
        what: String,
        /// What there is.
        known: String,
    },
    /// The demo shop would write over something else.
    #[error(
        "{folder} holds more than an untouched demo shop, so nothing was written. Name another \
         folder, read this one with `capful plan`, or replace its shop files with --force"
    )]
    WouldOverwrite {
        /// The folder.
        folder: PathBuf,
    },
    /// A file could not be read or written.
    #[error("{path}: {error}")]
    File {
        /// Which.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
    /// Settings are wrong.
    #[error("{}", .lines.join("\n"))]
    Settings {
        /// What is wrong, and where it stands.
        lines: Vec<String>,
    },
    /// The store did not do what it was asked.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// There is no shop, or no one shop, to speak of.
    #[error("{0}")]
    Shop(String),
    /// A running service could not be asked, or said no; a line for each reason.
    #[error("{}", .lines.join("\n"))]
    Service {
        /// Why.
        lines: Vec<String>,
    },
    /// The service cannot start or go on.
    #[error("{what}: {error}")]
    Serving {
        /// What was tried.
        what: String,
        /// Why it did not work.
        error: std::io::Error,
    },
    /// Nothing can be done as things stand; the text says what would be right.
    #[error("{0}")]
    Refused(String),
    /// The answer could not be put in writing.
    #[error("the answer cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

impl From<Failure> for Answer {
    fn from(failure: Failure) -> Self {
        let mut notes = Vec::new();
        if let Failure::Folder { errors } = &failure {
            notes.extend(oddities(&errors.warnings, errors.more_warnings));
        }
        if let Failure::Store(StoreError::Problems(problems)) = &failure {
            notes.extend(problems.iter().map(|problem| format!("error: {problem}")));
        }
        notes.extend(failure.to_string().lines().map(|line| format!("error: {line}")));
        Self { text: String::new(), notes, yes: false }
    }
}

/// A line for each thing that is odd about a folder, and one for those that are not listed.
pub(crate) fn oddities(warnings: &[Warning], more: usize) -> Vec<String> {
    let mut lines: Vec<String> = warnings.iter().map(|w| format!("warning: {w}")).collect();
    if more > 0 {
        lines.push(format!("warning: {more} more; the first {} are listed", warnings.len()));
    }
    lines
}
