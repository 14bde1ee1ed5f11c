//! What is wrong with a folder, or odd about it, said so that a person finds the place.

use std::fmt;

use crate::shop_toml::SHOP_TOML;

/// Characters of a text that are shown; a longer one is cut.
const SHOWN: usize = 80;

/// Problems that are listed of one folder, and warnings: the first by file and line. Of a folder
/// with more the others are counted, so that a file of a million wrong rows is told of in little
/// memory.
pub const MOST_LISTED: usize = 1_000;

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
#[derive(Debug, Clone, PartialEq, Eq, Default, thiserror::Error)]
pub struct Errors {
    /// What is wrong, at most [`MOST_LISTED`]; at least one.
    pub problems: Vec<Problem>,
    /// How many more problems there are.
    pub more_problems: usize,
    /// What is odd, at most [`MOST_LISTED`].
    pub warnings: Vec<Warning>,
    /// How many more oddities there are.
    pub more_warnings: usize,
}

impl Errors {
    /// How many problems there are, the listed ones and the others.
    #[must_use]
    pub fn total(&self) -> usize {
        self.problems.len() + self.more_problems
    }
}

impl fmt::Display for Errors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            let end = if index == 0 { "" } else { "\n" };
            write!(f, "{end}{problem}")?;
        }
        if self.more_problems > 0 {
            let listed = self.problems.len();
            write!(f, "\n{} more problems; the first {listed} are listed", self.more_problems)?;
        }
        Ok(())
    }
}

/// Where something stands in a folder: a file's name and a line.
trait Placed {
    fn place(&self) -> (&str, u64);
}

impl Placed for Problem {
    fn place(&self) -> (&str, u64) {
        (&self.file, self.line)
    }
}

impl Placed for Warning {
    fn place(&self) -> (&str, u64) {
        (&self.file, self.line)
    }
}

/// A list that keeps the first [`MOST_LISTED`] of what is put into it, by place, and counts on.
#[derive(Debug)]
struct Listing<T> {
    kept: Vec<T>,
    more: usize,
    /// The place from which on nothing more is kept: that of the last of a full list.
    end: Option<(usize, u64)>,
}

impl<T> Default for Listing<T> {
    fn default() -> Self {
        Self { kept: Vec::new(), more: 0, end: None }
    }
}

impl<T: Placed> Listing<T> {
    fn push(&mut self, item: T, order: &[&str]) {
        if self.kept.len() >= 2 * MOST_LISTED {
            self.cut(order);
            self.end = self.kept.last().map(|last| placed(last, order));
        }
        match self.end {
            Some(end) if placed(&item, order) >= end => self.more += 1,
            _ => self.kept.push(item),
        }
    }

    /// Sorts by place and forgets what is past the bound.
    fn cut(&mut self, order: &[&str]) {
        self.kept.sort_by_cached_key(|item| placed(item, order));
        self.more += self.kept.len().saturating_sub(MOST_LISTED);
        self.kept.truncate(MOST_LISTED);
    }
}

/// The place of a file in `order` (others last), and the line.
fn placed(item: &impl Placed, order: &[&str]) -> (usize, u64) {
    let (file, line) = item.place();
    (order.iter().position(|name| *name == file).unwrap_or(usize::MAX), line)
}

/// Collects problems and warnings while a folder is read.
#[derive(Debug)]
pub(crate) struct Findings {
    /// The files, in the order in which they are told of.
    order: Vec<&'static str>,
    problems: Listing<Problem>,
    warnings: Listing<Warning>,
}

impl Findings {
    /// Nothing found yet; told of in the order of these files.
    pub(crate) fn new(order: Vec<&'static str>) -> Self {
        Self { order, problems: Listing::default(), warnings: Listing::default() }
    }

    pub(crate) fn tell(&mut self, problem: Problem) {
        self.problems.push(problem, &self.order);
    }

    pub(crate) fn warn(&mut self, file: &str, line: u64, column: &str, text: &str) {
        let warning = Warning {
            file: file.to_owned(),
            line,
            column: column.to_owned(),
            text: text.to_owned(),
        };
        self.warnings.push(warning, &self.order);
    }

    /// Whether nothing is wrong.
    pub(crate) fn is_sound(&self) -> bool {
        self.problems.kept.is_empty()
    }

    /// What was found, by file and line.
    pub(crate) fn into_errors(mut self) -> Errors {
        self.problems.cut(&self.order);
        self.warnings.cut(&self.order);
        Errors {
            problems: self.problems.kept,
            more_problems: self.problems.more,
            warnings: self.warnings.kept,
            more_warnings: self.warnings.more,
        }
    }
}
