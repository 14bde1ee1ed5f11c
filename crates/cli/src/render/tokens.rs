//! The tokens of a shop.

use super::{Cell, Column, Ink, Table, Tone, paragraph};
use crate::token_command::ListedToken;

/// Each token with what it allows and until when, without its text.
#[must_use]
pub fn token_table(tokens: &[ListedToken], ink: Ink) -> String {
    if tokens.is_empty() {
        let none = "There are no tokens yet: `capful token create --scope shelf` makes one.";
        return paragraph(ink, Tone::Plain, 0, none);
    }
    let mut table = Table::new(&[Column::Left, Column::Left, Column::Left, Column::Flex]);
    table.names(&["id", "scope", "until", "label"]);
    for token in tokens {
        let tone = if token.good { Tone::Plain } else { Tone::Quiet };
        let until = match (token.revoked_at, token.expires_at) {
            (Some(_), _) => "revoked".to_owned(),
            (None, Some(end)) => end.format("%Y-%m-%d").to_string(),
            (None, None) => "–".to_owned(),
        };
        table.row(vec![
            Cell::new(tone, token.id.as_str()),
            Cell::new(tone, token.scope),
            Cell::new(tone, until),
            Cell::new(tone, token.label.as_str()),
        ]);
    }
    table.lines(ink)
}
