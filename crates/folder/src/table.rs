//! A CSV file as a table: its header held against the columns that the file may have.

use std::borrow::Cow;
use std::ops::Range;

use crate::csv_text::{NEVER_CLOSED, Record, Records};
use crate::problem::{Findings, MOST_LISTED, Problem};

/// Most rows of a file. A shop's whole history is far below; past it nothing more of the file is
/// read.
const MOST_ROWS: usize = 2_000_000;

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
    /// The cells of all rows, one row's behind the other's.
    cells: Vec<Cow<'t, str>>,
    /// The rows; one that breaks RFC 4180 or has too many or too few fields is `broken`. Of these
    /// no more are kept than are told of.
    pub(crate) rows: Vec<TableRow>,
    /// Whether there may be rows that could not be read, so that nobody can say what is missing.
    pub(crate) unsure: bool,
}

/// One row.
#[derive(Debug)]
pub(crate) struct TableRow {
    /// The physical line that it begins on, from 1.
    pub(crate) line: u64,
    /// Whether its fields cannot be trusted; what is wrong with it is told already.
    pub(crate) broken: bool,
    /// Where its cells stand among the table's.
    cells: Range<usize>,
}

impl<'t> Table<'t> {
    /// Reads the text of a file; what is wrong goes to `findings`. `torn` says that `text` had
    /// bytes that are not UTF-8 and stand as U+FFFD now.
    pub(crate) fn read(file: File, text: &'t str, torn: bool, findings: &mut Findings) -> Self {
        let mut records = Records::of(text);
        let Some(header) = records.next() else {
            let columns = file.names().collect::<Vec<_>>().join(",");
            let expected = format!("a header row: {columns}");
            findings.tell(Problem::new(file.name, 1, "", "", &expected));
            return Self { unsure: true, ..Self::default() };
        };
        let mut table = Self { unsure: header.fault.is_some(), ..Self::default() };
        if let Some(expected) = header.fault {
            let found = header.cells.join(",");
            findings.tell(Problem::new(file.name, header.line, "", &found, expected));
        } else {
            table.read_header(file, &header, findings);
        }
        let mut broken_rows = 0;
        for record in records {
            if table.rows.len() >= MOST_ROWS {
                let (found, expected) =
                    (record.cells.join(","), format!("at most {MOST_ROWS} rows"));
                findings.tell(Problem::new(file.name, record.line, "", &found, &expected));
                table.unsure = true;
                break;
            }
            table.unsure |= record.fault == Some(NEVER_CLOSED);
            let broken = tell_broken(file, &header, &record, torn, findings);
            broken_rows += usize::from(broken);
            if broken && broken_rows > MOST_LISTED {
                table.unsure = true;
                continue;
            }
            table.push(record, broken);
        }
        table
    }

    fn push(&mut self, record: Record<'t>, broken: bool) {
        let start = self.cells.len();
        self.cells.extend(record.cells);
        self.rows.push(TableRow { line: record.line, broken, cells: start..self.cells.len() });
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
                findings.tell(problem(name, "", "a column of this name"));
            }
        }
        self.unsure |= file.columns.first() == Some(&"id") && self.place("id").is_none();
        for (place, name) in header.cells.iter().enumerate() {
            let earlier = header.cells[..place].iter().filter(|cell| *cell == name).count();
            if earlier == 1 && !name.is_empty() {
                findings.tell(problem(name, name, "each column once"));
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
    pub(crate) fn cell(&self, row: &TableRow, column: &str) -> Option<&str> {
        let cells = self.cells.get(row.cells.clone())?;
        cells.get(self.place(column)?).map(|cell| &**cell)
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
        findings.tell(Problem::new(file.name, record.line, column, found, expected));
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
