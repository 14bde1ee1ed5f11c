//! Rows in columns, two spaces between them and no lines: the numbers do the ruling.

use super::ink::{Ink, Tone};
use super::text::{WIDTH, cut, paragraph, width};

const INDENT: usize = 2;
const GAP: usize = 2;

/// Columns that a text keeps, however short the line is.
const LEAST: usize = 8;

/// How a column is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Column {
    /// Text.
    Left,
    /// Numbers.
    Right,
    /// Text that gives way where the line is too short for all.
    Flex,
}

/// One piece of a row.
#[derive(Debug, Clone)]
pub(crate) struct Cell {
    text: String,
    tone: Tone,
}

impl Cell {
    /// A text in a tone.
    pub(crate) fn new(tone: Tone, text: impl Into<String>) -> Self {
        Self { text: text.into(), tone }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self::new(Tone::Plain, text)
    }
}

/// Cells, or no cell and a line over all columns, and below them lines already laid out.
#[derive(Default)]
struct Row {
    cells: Vec<Cell>,
    line: String,
    block: String,
}

/// A table under construction.
pub(crate) struct Table {
    columns: Vec<Column>,
    rows: Vec<Row>,
    indent: usize,
}

impl Table {
    /// An empty table with these columns.
    pub(crate) fn new(columns: &[Column]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new(), indent: INDENT }
    }

    /// The same table, so many columns in.
    pub(crate) const fn indented(mut self, indent: usize) -> Self {
        self.indent = indent;
        self
    }

    /// The names of the columns.
    pub(crate) fn names(&mut self, names: &[&str]) {
        let cells = names.iter().map(|name| Cell::new(Tone::Quiet, *name));
        self.row(cells.collect());
    }

    /// One row.
    pub(crate) fn row(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row { cells, ..Row::default() });
    }

    /// A line over all columns, that says what the rows below it share.
    pub(crate) fn line(&mut self, text: String) {
        self.rows.push(Row { line: text, ..Row::default() });
    }

    /// Lines below the last row, as they are.
    pub(crate) fn block(&mut self, lines: String) {
        if let Some(row) = self.rows.last_mut() {
            row.block = lines;
        }
    }

    /// The lines, each ended.
    pub(crate) fn lines(&self, ink: Ink) -> String {
        let widths = self.widths();
        let mut out = String::new();
        for row in &self.rows {
            let line: Vec<String> = row
                .cells
                .iter()
                .zip(&self.columns)
                .zip(&widths)
                .map(|((cell, column), width)| laid_out(ink, cell, *column, *width))
                .collect();
            let indent = self.indent;
            out.push_str(&paragraph(ink, Tone::Plain, indent, &row.line));
            if row.cells.is_empty() {
                continue;
            }
            let line = format!("{:indent$}{}", "", line.join(&" ".repeat(GAP)));
            out.push_str(line.trim_end());
            out.push('\n');
            out.push_str(&row.block);
        }
        out
    }

    fn widths(&self) -> Vec<usize> {
        let widest = |i: usize| {
            let cells = self.rows.iter().filter_map(|row| row.cells.get(i));
            cells.map(|cell| width(&cell.text)).max().unwrap_or(0)
        };
        let mut widths: Vec<usize> = (0..self.columns.len()).map(widest).collect();
        let gaps = GAP * self.columns.len().saturating_sub(1);
        let total = self.indent + gaps + widths.iter().sum::<usize>();
        for _ in WIDTH..total {
            let flex = (0..widths.len()).filter(|&i| self.columns[i] == Column::Flex);
            if let Some(widest) = flex.filter(|&i| widths[i] > LEAST).max_by_key(|&i| widths[i]) {
                widths[widest] -= 1;
            }
        }
        widths
    }
}

fn laid_out(ink: Ink, cell: &Cell, column: Column, columns: usize) -> String {
    let text = cut(&cell.text, columns);
    let pad = columns.saturating_sub(width(&text));
    let painted = ink.paint(cell.tone, &text);
    match column {
        Column::Right => format!("{:pad$}{painted}", ""),
        Column::Left | Column::Flex => format!("{painted}{:pad$}", ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_right_and_text_left() {
        let mut table = Table::new(&[Column::Left, Column::Right]);
        table.names(&["product", "left"]);
        table.row(vec!["Tar remover".into(), "1.2 L".into()]);
        table.block("    Count it.\n".to_owned());
        let lines = table.lines(Ink::PLAIN);
        assert_eq!(lines, "  product       left\n  Tar remover  1.2 L\n    Count it.\n");
    }

    #[test]
    fn the_flexible_column_gives_way() {
        let mut table = Table::new(&[Column::Flex, Column::Right]);
        table.row(vec!["word ".repeat(30).into(), "46.00".into()]);
        let lines = table.lines(Ink::PLAIN);
        assert_eq!(width(lines.trim_end_matches('\n')), WIDTH);
        assert!(lines.contains("word… ") && lines.ends_with(" 46.00\n"), "{lines:?}");
    }
}
