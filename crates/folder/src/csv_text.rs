//! Comma-separated text into records, as RFC 4180 has it, each with the line it begins on.
//!
//! Stricter than is common: a quote that stands where none may is told, never guessed at, since a
//! wrong guess swallows rows.

use std::borrow::Cow;

/// One record.
#[derive(Debug, Default)]
pub(crate) struct Record<'t> {
    /// The physical line that it begins on, from 1.
    pub(crate) line: u64,
    /// Its fields, without their quotes.
    pub(crate) cells: Vec<Cow<'t, str>>,
    /// What breaks RFC 4180, if anything: what was expected.
    pub(crate) fault: Option<&'static str>,
}

/// Splits a text into records; empty lines are passed over.
pub(crate) struct Records<'t> {
    text: &'t str,
    at: usize,
    line: u64,
}

/// Most fields of a record; of one with more the others are passed over.
const MOST_FIELDS: usize = 256;

const TOO_MANY_FIELDS: &str = "a row of at most 256 fields";
/// Stands where a quoted field is never closed.
pub(crate) const NEVER_CLOSED: &str = "a closing quote before the end of the file";
const QUOTE_INSIDE: &str = "quotes around the whole field, and each quote inside it doubled";
const LONE_RETURN: &str = "lines that end in LF or CR LF";

impl<'t> Records<'t> {
    pub(crate) fn of(text: &'t str) -> Self {
        Self { text, at: 0, line: 1 }
    }

    fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    /// Takes the line end that stands here, if one does.
    fn take_line_end(&mut self) -> bool {
        let length = match self.rest().as_bytes() {
            [b'\n', ..] => 1,
            [b'\r', b'\n', ..] => 2,
            [b'\r'] => 1,
            _ => return false,
        };
        self.at += length;
        self.line += 1;
        true
    }

    /// Takes one field and leaves the comma or line end behind it.
    fn take_field(&mut self, fault: &mut Option<&'static str>) -> Cow<'t, str> {
        if !self.rest().starts_with('"') {
            return Cow::Borrowed(self.take_plain(fault));
        }
        let mut field = self.take_quoted(fault);
        if !matches!(self.rest().as_bytes(), [] | [b',' | b'\n', ..] | [b'\r', b'\n', ..] | [b'\r'])
        {
            fault.get_or_insert(QUOTE_INSIDE);
            field.to_mut().push_str(self.take_plain(fault));
        }
        field
    }

    fn take_plain(&mut self, fault: &mut Option<&'static str>) -> &'t str {
        let rest = self.rest();
        let end = rest.bytes().position(|b| matches!(b, b',' | b'\n')).unwrap_or(rest.len());
        let at_comma = rest.as_bytes().get(end) == Some(&b',');
        let field = &rest[..end];
        let field = if at_comma { field } else { field.strip_suffix('\r').unwrap_or(field) };
        self.at += field.len();
        if field.contains('"') {
            fault.get_or_insert(QUOTE_INSIDE);
        } else if field.contains('\r') {
            fault.get_or_insert(LONE_RETURN);
        }
        field
    }

    fn take_quoted(&mut self, fault: &mut Option<&'static str>) -> Cow<'t, str> {
        self.at += 1;
        let mut field = Cow::Borrowed("");
        loop {
            let rest = self.rest();
            let end = rest.find('"');
            let part = &rest[..end.unwrap_or(rest.len())];
            self.line += part.bytes().filter(|b| *b == b'\n').count() as u64;
            if field.is_empty() {
                field = Cow::Borrowed(part);
            } else {
                field.to_mut().push_str(part);
            }
            if end.is_none() {
                self.at = self.text.len();
                fault.get_or_insert(NEVER_CLOSED);
                return field;
            }
            self.at += part.len() + 1;
            if !self.rest().starts_with('"') {
                return field;
            }
            self.at += 1;
            field.to_mut().push('"');
        }
    }
}

impl<'t> Iterator for Records<'t> {
    type Item = Record<'t>;

    fn next(&mut self) -> Option<Record<'t>> {
        while self.take_line_end() {}
        if self.at == self.text.len() {
            return None;
        }
        let mut record = Record { line: self.line, ..Record::default() };
        loop {
            let field = self.take_field(&mut record.fault);
            if record.cells.len() < MOST_FIELDS {
                record.cells.push(field);
            } else {
                record.fault.get_or_insert(TOO_MANY_FIELDS);
            }
            if self.rest().starts_with(',') {
                self.at += 1;
            } else {
                self.take_line_end();
                return Some(record);
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn records(text: &str) -> Vec<(u64, Vec<String>, bool)> {
        Records::of(text)
            .map(|r| (r.line, r.cells.iter().map(ToString::to_string).collect(), r.fault.is_some()))
            .collect()
    }

    fn record(line: u64, cells: &[&str]) -> (u64, Vec<String>, bool) {
        (line, cells.iter().map(ToString::to_string).collect(), false)
    }

    #[test]
    fn fields_lines_and_quotes() {
        assert_eq!(records(""), []);
        assert_eq!(records("\r\n\n"), []);
        assert_eq!(records("a,b"), [record(1, &["a", "b"])]);
        assert_eq!(records("a,\r\n\r\n,b\r"), [record(1, &["a", ""]), record(3, &["", "b"])]);
        assert_eq!(
            records("\"x,\"\"y\"\"\",\"\"\n\"1\r\n2\n\",\"\"\"\"\nz"),
            [record(1, &["x,\"y\"", ""]), record(2, &["1\r\n2\n", "\""]), record(5, &["z"])]
        );
    }

    #[test]
    fn what_breaks_the_rules_is_told_and_the_next_line_is_read() {
        for text in ["a\"b,c\nd", "\"a\"b,c\nd", "a\rb,c\nd"] {
            let found = records(text);
            assert!(found[0].2, "{text:?}");
            assert_eq!(found[1], record(2, &["d"]), "{text:?}");
        }
        assert_eq!(Records::of("a\n\"b,c\nd").last().unwrap().fault, Some(NEVER_CLOSED));
    }

    #[test]
    fn a_row_of_commas_is_told_and_takes_no_room() {
        let text = format!("{}\nd", ",".repeat(1_000_000));
        let records: Vec<Record> = Records::of(&text).collect();
        assert_eq!((records[0].cells.len(), records[0].fault), (256, Some(TOO_MANY_FIELDS)));
        assert_eq!((records[1].line, &*records[1].cells[0]), (2, "d"));
    }
}
