//! One row, read cell by cell: each cell that is wrong is told, and the row goes on to the next.

use std::collections::HashMap;

use capful_domain::{Id, Money, Shop};
use chrono::{DateTime, Utc};

use crate::cells::{self, Parsed, Wrong};
use crate::formula;
use crate::problem::{Findings, Problem};
use crate::table::{File, Table, TableRow};

/// The keys of a file's rows so far, each with its line.
pub(crate) type Keys = HashMap<String, u64>;

/// One row of a CSV file.
pub(crate) struct Row<'r> {
    pub(crate) file: File,
    pub(crate) shop: &'r Shop,
    pub(crate) table: &'r Table<'r>,
    pub(crate) row: &'r TableRow,
    pub(crate) findings: &'r mut Findings,
    pub(crate) keys: &'r mut Keys,
    /// Whether every cell that was read so far is right.
    pub(crate) sound: bool,
}

impl Row<'_> {
    pub(crate) fn text(&self, column: &str) -> Option<&str> {
        self.table.cell(self.row, column)
    }

    /// Tells that a cell is wrong.
    pub(crate) fn wrong(&mut self, column: &str, expected: &str) {
        let found = self.text(column).unwrap_or_default();
        let problem = Problem::new(self.file.name, self.row.line, column, found, expected);
        self.findings.tell(problem);
        self.sound = false;
    }

    /// Tells that a cell is odd.
    pub(crate) fn warn(&mut self, column: &str, text: &str) {
        self.findings.warn(self.file.name, self.row.line, column, text);
    }

    /// Whether a cell has a text in it.
    pub(crate) fn has(&self, column: &str) -> bool {
        self.text(column).is_some_and(|text| !text.is_empty())
    }

    /// A cell that must hold something; `None` where it is wrong, which is told.
    pub(crate) fn required<T>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        let Some(text) = self.text(column) else {
            self.sound = false; // the missing column is told once, at the header row
            return None;
        };
        let parsed = parse(text);
        self.keep(column, parsed)
    }

    /// A cell that may be empty; `None` where it is, or where it is wrong, which is told.
    pub(crate) fn optional<T>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        let parsed = parse(self.text(column).filter(|text| !text.is_empty())?);
        self.keep(column, parsed)
    }

    /// A text that must be there, as it was before it was made safe for a spreadsheet.
    pub(crate) fn required_text<T>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        self.required(column, |text| parse(formula::unescape(text)))
    }

    /// A text that may be missing, as it was before it was made safe for a spreadsheet.
    pub(crate) fn optional_text<T>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Parsed<T>,
    ) -> Option<T> {
        self.optional(column, |text| parse(formula::unescape(text)))
    }

    fn keep<T>(&mut self, column: &str, parsed: Parsed<T>) -> Option<T> {
        match parsed {
            Ok(value) => return Some(value),
            Err(Wrong::Expected(expected)) => self.wrong(column, &expected),
            Err(Wrong::ToldElsewhere) => self.sound = false,
        }
        None
    }

    /// The row's `id`, which no other row of the file may have.
    pub(crate) fn id(&mut self) -> Option<Id> {
        let id = self.required("id", cells::id)?;
        self.unique("id", id.as_str().to_owned(), "an id");
        Some(id)
    }

    /// Tells where an earlier row has this key; `what` it is.
    pub(crate) fn unique(&mut self, column: &str, key: String, what: &str) {
        let line = self.row.line;
        let first = *self.keys.entry(key).or_insert(line);
        if first != line {
            self.wrong(column, &format!("{what} that no other row has (line {first} has it)"));
        }
    }

    /// Money that must be there.
    pub(crate) fn required_money(&mut self, column: &str) -> Option<Money> {
        let currency = self.shop.currency;
        let read = self.required(column, |text| cells::money(text, currency))?;
        Some(self.nearest(column, read))
    }

    /// Money that may be missing.
    pub(crate) fn optional_money(&mut self, column: &str) -> Option<Money> {
        let currency = self.shop.currency;
        let read = self.optional(column, |text| cells::money(text, currency))?;
        Some(self.nearest(column, read))
    }

    fn nearest(&mut self, column: &str, (money, exact): (Money, bool)) -> Money {
        if !exact {
            self.warn(column, &cells::read_to_nearest(money, self.shop.currency));
        }
        money
    }

    /// A time that must be there.
    pub(crate) fn required_time(&mut self, column: &str) -> Option<DateTime<Utc>> {
        let shop = self.shop;
        self.required(column, |text| cells::time(text, shop))
    }

    /// A time that may be missing.
    pub(crate) fn optional_time(&mut self, column: &str) -> Option<DateTime<Utc>> {
        let shop = self.shop;
        self.optional(column, |text| cells::time(text, shop))
    }

    /// Whether every cell that was read is right: `None` ends the reading of a row that is not.
    pub(crate) fn sound(&self) -> Option<()> {
        self.sound.then_some(())
    }
}
