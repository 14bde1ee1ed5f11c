//! Every kind of wrong cell, and the whole messages that tell of it.

#![allow(clippy::unwrap_used)]

mod common;

use common::{changed, problems};

const CASES: &str = include_str!("wrong_cells.txt");

/// The text behind a mark, with its line ends.
fn marked(mark: &str, line: &str) -> Option<String> {
    line.strip_prefix(mark).map(|text| text.strip_prefix(' ').unwrap_or(text).replace("\\n", "\n"))
}

#[test]
fn each_is_told_in_full() {
    let (mut file, mut cases) = ("", 0);
    for case in CASES.split("\n\n") {
        let mut lines = case.lines().filter(|line| !line.starts_with('#')).peekable();
        if let Some(name) = lines.peek().and_then(|line| line.strip_prefix('[')) {
            file = name.trim_end_matches(']');
            continue;
        }
        let Some(from) = lines.next().and_then(|line| marked("-", line)) else {
            continue;
        };
        let to = lines.next().and_then(|line| marked("+", line)).unwrap();
        let told = problems(changed(file, &from, &to));
        assert_eq!(told, lines.collect::<Vec<_>>(), "{file}: {from:?} -> {to:?}");
        cases += 1;
    }
    assert!(cases > 120, "{cases} cases");
}
