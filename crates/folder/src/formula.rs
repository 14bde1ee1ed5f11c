//! Texts that a spreadsheet would run: a cell that begins as a formula does is written with an
//! apostrophe before it, by which spreadsheets take it for text, and read without.
//!
//! The reader takes one apostrophe off where the writer puts one, so that every text comes back as
//! it was: a text that itself begins with an apostrophe and then with such a character, or with
//! another apostrophe, gets one more.

use std::borrow::Cow;

/// What a formula begins with, in one spreadsheet or another: the operators, their full-width
/// forms, and what is skipped before them.
const BEGINS: [char; 11] =
    ['=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

const MARK: char = '\'';

/// Whether a text begins with an apostrophe that the reader takes off.
fn is_marked(text: &str) -> bool {
    text.strip_prefix(MARK).is_some_and(|rest| rest.starts_with(MARK) || rest.starts_with(BEGINS))
}

/// A text as it is written in a cell.
pub(crate) fn escape(text: &str) -> Cow<'_, str> {
    if text.starts_with(BEGINS) || is_marked(text) {
        Cow::Owned(format!("{MARK}{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text that a cell was written for.
pub(crate) fn unescape(cell: &str) -> &str {
    if is_marked(cell) { cell.strip_prefix(MARK).unwrap_or(cell) } else { cell }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_would_run_is_marked_and_nothing_else() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("+44", "'+44"),
            ("-2", "'-2"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\t=1", "'\t=1"),
            ("\r\n=1", "'\r\n=1"),
            ("\n=1", "'\n=1"),
            ("\u{ff1d}1", "'\u{ff1d}1"),
            ("'=1", "''=1"),
            ("''", "'''"),
            ("'", "'"),
            ("'90s wax", "'90s wax"),
            ("5:1 = strong", "5:1 = strong"),
            ("", ""),
        ] {
            assert_eq!(escape(text), cell, "{text:?}");
            assert_eq!(unescape(cell), text, "{cell:?}");
        }
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "['=+@\t\r\n\u{ff1d}-]{0,4}\\PC{0,6}") {
            let cell = escape(&text).into_owned();
            prop_assert!(!cell.starts_with(BEGINS), "{cell:?}");
            prop_assert_eq!(unescape(&cell), &text);
        }
    }
}
