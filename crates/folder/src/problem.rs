//! What is wrong with a folder, or odd about it, said so that a person finds the place.

use std::fmt;

use crate::shop_toml::SHOP_TOML;

/// Characters of a text that are shown; a longer one is cut.
const SHOWN: usize = 80;

/// One thing that is wrong, and what would be right.
///
/// ```
/// use capful_folder::Problem;
/// let problem = Problem {
///     file: "pours.csv".into(),
///     line: 17,
///     column: "quantity".into(),
///     found: "12,5".into(),
///     expected: "a decimal number such as 12.5".into(),
/// };
/// assert_eq!(
///     problem.to_string(),
///     r#"pours.csv:17: column "quantity": found "12,5", expected a decimal number such as 12.5"#
/// );
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The file's name.
    pub file: String,
    /// The line of the file that the row begins on, from 1; 0 where it is about the whole file.
    pub line: u64,
    /// The column, or the key in `shop.toml`; empty where it is about the whole line.
    pub column: String,
    /// The text that stands there.
    pub found: String,
    /// What should.
    pub expected: String,
}

impl Problem {
    pub(crate) fn new(file: &str, line: u64, column: &str, found: &str, expected: &str) -> Self {
        Self {
            file: file.to_owned(),
            line,
            column: column.to_owned(),
            found: cut(found),
            expected: expected.to_owned(),
        }
    }
}

fn cut(text: &str) -> String {
    match text.char_indices().nth(SHOWN) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_place(f, &self.file, self.line, &self.column)?;
        if self.found.is_empty() {
            write!(f, "found nothing, expected {}", self.expected)
        } else {
            write!(f, "found {:?}, expected {}", self.found, self.expected)
        }
    }
}

/// Something odd that does not keep the folder from being read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The file's name.
    pub file: String,
    /// The line of the file, from 1; 0 where it is about the whole file.
    pub line: u64,
    /// The column, or the key in `shop.toml`; empty where it is about the whole line.
    pub column: String,
    /// What is odd, and what was done about it.
    pub text: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_place(f, &self.file, self.line, &self.column)?;
        f.write_str(&self.text)
    }
}

fn write_place(f: &mut fmt::Formatter<'_>, file: &str, line: u64, column: &str) -> fmt::Result {
    f.write_str(file)?;
    if line > 0 {
        write!(f, ":{line}")?;
    }
    f.write_str(": ")?;
    if !column.is_empty() {
        let noun = if file == SHOP_TOML { "key" } else { "column" };
        write!(f, "{noun} {column:?}: ")?;
    }
    Ok(())
}

/// Everything that is wrong with a folder, by file and line, and what is odd beside.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Errors {
    /// What is wrong; at least one.
    pub problems: Vec<Problem>,
    /// What is odd.
    pub warnings: Vec<Warning>,
}

impl fmt::Display for Errors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            let end = if index == 0 { "" } else { "\n" };
            write!(f, "{end}{problem}")?;
        }
        Ok(())
    }
}

/// Collects problems and warnings while a folder is read.
#[derive(Debug, Default)]
pub(crate) struct Findings {
    pub(crate) problems: Vec<Problem>,
    pub(crate) warnings: Vec<Warning>,
}

impl Findings {
    pub(crate) fn warn(&mut self, file: &str, line: u64, column: &str, text: &str) {
        self.warnings.push(Warning {
            file: file.to_owned(),
            line,
            column: column.to_owned(),
            text: text.to_owned(),
        });
    }

    /// By the place of the file in `order` (others last), then by line.
    pub(crate) fn sort(&mut self, order: &[&str]) {
        let place = |file: &str| order.iter().position(|name| *name == file).unwrap_or(usize::MAX);
        self.problems.sort_by_key(|p| (place(&p.file), p.line));
        self.warnings.sort_by_key(|w| (place(&w.file), w.line));
    }
}
