//! The people of a shop.

use super::{Cell, Column, Ink, Table, Tone, paragraph};
use crate::person_command::ListedPerson;

/// Each person with what they sign in with and may do.
#[must_use]
pub fn person_table(people: &[ListedPerson], ink: Ink) -> String {
    if people.is_empty() {
        let none = "Nobody signs in yet: `capful person add SIGN_IN --name NAME --role owner` \
                    lets somebody.";
        return paragraph(ink, Tone::Plain, 0, none);
    }
    let mut table = Table::new(&[Column::Left, Column::Left, Column::Left, Column::Flex]);
    table.names(&["sign-in", "role", "until", "name"]);
    for person in people {
        let tone = if person.ended_at.is_none() { Tone::Plain } else { Tone::Quiet };
        let until = person.ended_at.map(|end| end.format("%Y-%m-%d").to_string());
        table.row(vec![
            Cell::new(tone, person.sign_in.as_str()),
            Cell::new(tone, person.role),
            Cell::new(tone, until.unwrap_or_else(|| "–".to_owned())),
            Cell::new(tone, person.name.as_str()),
        ]);
    }
    table.lines(ink)
}
