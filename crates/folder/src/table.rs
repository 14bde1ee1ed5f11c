//! A CSV file as a table: its header held against the columns that the file may have.

use std::borrow::Cow;

use crate::csv_text::{NEVER_CLOSED, Record, Records};
use crate::problem::{Findings, Problem};

/// A CSV file of the folder.
#[derive(Debug, Clone, Copy)]
pub(crate) struct File {
    /// Its name.
    pub(crate) name: &'static str,
    /// Its columns in the order they are written; one that may be missing ends in `?`.
    pub(crate) columns: &'static [&'static str],
}

impl File {
    /// The columns' names, without the `?`.
    pub(crate) fn names(self) -> impl Iterator<Item = &'static str> {
        self.columns.iter().map(|column| column.trim_end_matches('?'))
    }
}

/// The rows of one file.
#[derive(Debug, Default)]
pub(crate) struct Table<'t> {
    /// Where each column of the file stands, by its name.
    places: Vec<(&'static str, usize)>,
    /// The rows; one that breaks RFC 4180 or has too many or too few fields is `broken`.
    pub(crate) rows: Vec<TableRow<'t>>,
    /// Whether there may be rows that could not be read, so that nobody can say what is missing.
    pub(crate) unsure: bool,
}

/// One row.
#[derive(Debug)]
pub(crate) struct TableRow<'t> {
    /// The physical line that it begins on, from 1.
    pub(crate) line: u64,
    /// Whether its fields cannot be trusted; what is wrong with it is told already.
    pub(crate) broken: bool,
    cells: Vec<Cow<'t, str>>,
}

impl<'t> Table<'t> {
    /// Reads the text of a file; what is wrong goes to `findings`. `torn` says that `text` had
    /// bytes that are not UTF-8 and stand as U+FFFD now.
    pub(crate) fn read(file: File, text: &'t str, torn: bool, findings: &mut Findings) -> Self {
        let mut records = Records::of(text);
        let Some(header) = records.next() else {
            let columns = file.names().collect::<Vec<_>>().join(",");
            let expected = format!("a header row: {columns}");
            findings.problems.push(Problem::new(file.name, 1, "", "", &expected));
            return Self { unsure: true, ..Self::default() };
        };
        let mut table = Self { unsure: header.fault.is_some(), ..Self::default() };
        if let Some(expected) = header.fault {
            let found = header.cells.join(",");
            findings.problems.push(Problem::new(file.name, header.line, "", &found, expected));
        } else {
            table.read_header(file, &header, findings);
        }
        for record in records {
            table.unsure |= record.fault == Some(NEVER_CLOSED);
            let broken = tell_broken(file, &header, &record, torn, findings);
            table.rows.push(TableRow { line: record.line, broken, cells: record.cells });
        }
        table
    }

    fn read_header(&mut self, file: File, header: &Record, findings: &mut Findings) {
        let problem = |column: &str, found: &str, expected: &str| {
            Problem::new(file.name, header.line, column, found, expected)
        };
        for column in file.columns {
            let name = column.trim_end_matches('?');
            if let Some(place) = header.cells.iter().position(|cell| cell == name) {
                self.places.push((name, place));
            } else if name == *column {
                findings.problems.push(problem(name, "", "a column of this name"));
            }
        }
        self.unsure |= file.columns.first() == Some(&"id") && self.place("id").is_none();
        for (place, name) in header.cells.iter().enumerate() {
            let earlier = header.cells[..place].iter().filter(|cell| *cell == name).count();
            if earlier == 1 && !name.is_empty() {
                findings.problems.push(problem(name, name, "each column once"));
            } else if earlier == 0 && !self.places.iter().any(|(known, _)| known == name) {
                let nameless = if name.is_empty() { " without a name" } else { "" };
                let text = format!("unknown column{nameless}, not read");
                findings.warn(file.name, header.line, name, &text);
            }
        }
    }

    fn place(&self, column: &str) -> Option<usize> {
        self.places.iter().find(|(name, _)| *name == column).map(|(_, place)| *place)
    }

    /// The text of a cell; `None` where the file has no such column or the row ends before it.
    pub(crate) fn cell<'s>(&self, row: &'s TableRow<'t>, column: &str) -> Option<&'s str> {
        row.cells.get(self.place(column)?).map(|cell| &**cell)
    }
}

/// Tells what keeps a row from being read cell by cell, if anything does.
fn tell_broken(
    file: File,
    header: &Record,
    record: &Record,
    torn: bool,
    findings: &mut Findings,
) -> bool {
    let mut problem = |column: &str, found: &str, expected: &str| {
        findings.problems.push(Problem::new(file.name, record.line, column, found, expected));
    };
    if let Some(expected) = record.fault {
        problem("", &record.cells.join(","), expected);
        return true;
    }
    let mut broken = false;
    for (index, cell) in record.cells.iter().enumerate().filter(|_| torn) {
        if cell.contains(char::REPLACEMENT_CHARACTER) {
            problem(header.cells.get(index).map_or("", |name| name), cell, "UTF-8 text");
            broken = true;
        }
    }
    let (fields, wanted) = (record.cells.len(), header.cells.len());
    if fields != wanted && header.fault.is_none() {
        let noun = if fields == 1 { "field" } else { "fields" };
        problem("", &format!("{fields} {noun}"), &format!("{wanted}, as in the header row"));
        broken = true;
    }
    broken || header.fault.is_some()
}
