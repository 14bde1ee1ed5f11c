//! What a command answers, and what keeps it from answering.

use std::path::PathBuf;

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
    /// The answer could not be put in writing.
    #[error("the answer cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

impl From<Failure> for Answer {
    fn from(failure: Failure) -> Self {
        let mut notes = Vec::new();
        if let Failure::Folder { errors } = &failure {
            notes.extend(errors.warnings.iter().map(|w| format!("warning: {w}")));
        }
        notes.extend(failure.to_string().lines().map(|line| format!("error: {line}")));
        Self { text: String::new(), notes, yes: false }
    }
}
