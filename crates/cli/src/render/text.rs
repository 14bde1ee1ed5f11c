//! Lines of at most 80 columns.

use unicode_width::UnicodeWidthStr;

use super::ink::{Ink, Tone};

/// Columns of a line.
pub(crate) const WIDTH: usize = 80;

/// Columns that a text takes.
pub(crate) fn width(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// A text cut to so many columns, the cut shown.
pub(crate) fn cut(text: &str, columns: usize) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut short = String::new();
    for letter in text.chars() {
        let next = format!("{short}{letter}");
        if width(&next) + 1 > columns {
            break;
        }
        short = next;
    }
    format!("{}…", short.trim_end())
}

/// Words laid out in lines of at most `columns`; a word that is longer has a line to itself.
pub(crate) fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && width(&line) + 1 + width(word) > columns {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text in lines that all begin `indent` columns in.
pub(crate) fn paragraph(ink: Ink, tone: Tone, indent: usize, text: &str) -> String {
    let lines = wrapped(text, WIDTH - indent);
    lines.iter().map(|l| format!("{:indent$}{}\n", "", ink.paint(tone, l))).collect()
}

/// A text behind a dot.
pub(crate) fn bullet(text: &str) -> String {
    let mut lines = String::new();
    for (place, line) in wrapped(text, WIDTH - 4).iter().enumerate() {
        let dot = if place == 0 { '·' } else { ' ' };
        lines.push_str(&format!("  {dot} {line}\n"));
    }
    lines
}

/// The name of a part on the left, its sum on the right.
pub(crate) fn heading(ink: Ink, name: &str, sum: &str) -> String {
    if sum.is_empty() {
        return format!("{}\n", ink.paint(Tone::Heading, name));
    }
    let gap = WIDTH.saturating_sub(width(name) + width(sum)).max(2);
    let (name, sum) = (ink.paint(Tone::Heading, name), ink.paint(Tone::Heading, sum));
    format!("{name}{:gap$}{sum}\n", "")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_whole_and_lines_stay_short() {
        let lines = wrapped("five booked jobs take about 2.1 L", 12);
        assert_eq!(lines, ["five booked", "jobs take", "about 2.1 L"]);
        assert_eq!(wrapped("unquestionably so", 5), ["unquestionably", "so"]);
        assert!(wrapped("  ", 5).is_empty());
    }

    #[test]
    fn a_cut_text_shows_that_it_was_cut() {
        assert_eq!(cut("Iron remover, 5 L", 17), "Iron remover, 5 L");
        assert_eq!(cut("Iron remover, 5 L", 10), "Iron remo…");
        assert_eq!(cut("Iron remover, 5 L", 6), "Iron…");
        assert_eq!(cut("鉄粉除去剤", 5), "鉄粉…");
    }

    #[test]
    fn a_heading_fills_the_line() {
        let line = heading(Ink::PLAIN, "Order", "CAD 12.00");
        assert_eq!(width(line.trim_end()), WIDTH);
    }
}
