//! Colour, where there is a terminal to show it; as little as helps.

use std::io::IsTerminal;

/// What a piece of text is to the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// The text itself.
    Plain,
    /// The name of what follows.
    Heading,
    /// Can be passed over.
    Quiet,
    /// Wants a look.
    Alarm,
}

/// Whether text is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink {
    coloured: bool,
}

impl Ink {
    /// No colour.
    pub const PLAIN: Self = Self { coloured: false };

    /// Coloured where standard output is a terminal and `NO_COLOR` is unset or empty.
    #[must_use]
    pub fn of_terminal() -> Self {
        let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        Self { coloured: std::io::stdout().is_terminal() && !refused }
    }

    /// The text in its tone.
    pub(crate) fn paint(self, tone: Tone, text: &str) -> String {
        let code = match tone {
            Tone::Plain => "",
            Tone::Heading => "1",
            Tone::Quiet => "2",
            Tone::Alarm => "1;31",
        };
        if !self.coloured || code.is_empty() || text.is_empty() {
            return text.to_owned();
        }
        format!("\u{1b}[{code}m{text}\u{1b}[0m")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_ink_leaves_text_alone() {
        assert_eq!(Ink::PLAIN.paint(Tone::Alarm, "12 mL"), "12 mL");
    }

    #[test]
    fn colour_ends_where_the_text_ends() {
        let ink = Ink { coloured: true };
        assert_eq!(ink.paint(Tone::Heading, "Order"), "\u{1b}[1mOrder\u{1b}[0m");
        assert_eq!(ink.paint(Tone::Plain, "Order"), "Order");
    }
}
