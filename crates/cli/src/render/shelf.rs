//! The shelf as the ledger adds up to it: by product, and one product by container.

use capful_domain::Unit;
use capful_forecast::plan::AmountIn;

use super::numbers::{counted, day, quantity, use_by};
use super::{Cell, Column, Digits, Ink, Table, Tone, heading, paragraph};
use crate::shelf::{ProductShelf, Shelf};

/// Every product, with what its containers hold.
#[must_use]
pub fn shelf_screen(shelf: &Shelf, ink: Ink) -> String {
    let date = shelf.as_of.format("%A %-d %B %Y");
    let mut text = heading(ink, &shelf.shop, &date.to_string());
    let (tone, verdict) = match shelf.differences.len() {
        0 => (Tone::Plain, "every container holds the sum of its movements".to_owned()),
        n => (Tone::Alarm, format!("{} not", counted(n, "container does", "containers do"))),
    };
    let movements = counted(shelf.movements, "movement", "movements");
    text.push_str(&paragraph(ink, tone, 0, &format!("{movements} added up: {verdict}.")));
    text.push('\n');
    if shelf.products.is_empty() {
        text.push_str(&paragraph(ink, Tone::Plain, 0, "The shop has no products yet."));
        return text;
    }
    text.push_str(&heading(ink, "Shelf", &format!("{} {}", shelf.currency, shelf.value)));
    let mut table = Table::new(&[
        Column::Left,
        Column::Flex,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["product", "", "left", "sealed", "open", "at cost"]);
    for product in &shelf.products {
        let sealed = product.containers.iter().filter(|c| c.state == "sealed").count();
        table.row(vec![
            Cell::new(Tone::Quiet, &product.product),
            product.name.as_str().into(),
            amount(shelf, product.left, Digits::Three).into(),
            number(sealed).into(),
            number(product.containers.len() - sealed).into(),
            product.value.to_string().into(),
        ]);
        let flags = flags(shelf, product);
        table.block(flags.iter().map(|flag| paragraph(ink, Tone::Plain, 4, flag)).collect());
    }
    text.push_str(&table.lines(ink));
    text.push('\n');
    text.push_str(&paragraph(ink, Tone::Quiet, 0, "Containers of a product: --open and its id."));
    text
}

/// One product by container; `None` where none is called `id`.
#[must_use]
pub fn shelf_of(shelf: &Shelf, id: &str, ink: Ink) -> Option<String> {
    let product = shelf.products.iter().find(|product| product.product == id)?;
    let left = amount(shelf, product.left, Digits::Three);
    let mut text = heading(ink, &product.name, &left);
    if product.containers.is_empty() {
        text.push_str(&paragraph(ink, Tone::Plain, 2, "Nothing is left of it."));
    }
    let mut table = Table::new(&[
        Column::Flex,
        Column::Flex,
        Column::Left,
        Column::Right,
        Column::Left,
        Column::Left,
    ]);
    table.names(&["container", "lot", "", "left", "opened", "use by"]);
    for one in &product.containers {
        let on = |date| day(date, shelf.as_of);
        let until = |date| use_by(date, shelf.as_of);
        let state = match one.water {
            Some(water) => format!("mix {water}:1"),
            None => one.state.to_owned(),
        };
        let past = one.use_by.is_some_and(|last| last < shelf.as_of);
        let tone = if past { Tone::Alarm } else { Tone::Plain };
        table.row(vec![
            one.container.as_str().into(),
            one.lot.as_str().into(),
            state.into(),
            amount(shelf, one.left, Digits::Three).into(),
            one.opened_on.map_or_else(|| "–".to_owned(), on).into(),
            Cell::new(tone, one.use_by.map_or_else(|| "no limit".to_owned(), until)),
        ]);
    }
    if !product.containers.is_empty() {
        text.push_str(&table.lines(ink));
    }
    for flag in flags(shelf, product) {
        text.push_str(&paragraph(ink, Tone::Plain, 2, &flag));
    }
    Some(text)
}

fn flags(shelf: &Shelf, product: &ProductShelf) -> Vec<String> {
    let mut flags = Vec::new();
    if product.past_use_by.amount > 0.0 {
        let past = amount(shelf, product.past_use_by, Digits::Three);
        flags.push(format!("{past} of it is past its use-by."));
    }
    if let Some(found) = &product.found_stock {
        let surplus = amount(shelf, found.surplus, Digits::Three);
        let last_on = day(found.last_on, shelf.as_of);
        let taken = match (found.kind, found.measured) {
            ("poured", false) => "is expected to have been poured".to_owned(),
            (kind, _) => format!("was {kind}"),
        };
        flags.push(format!("{surplus} more {taken} than the books held ({last_on}): count it."));
    }
    flags
}

fn amount(shelf: &Shelf, amount: AmountIn, digits: Digits) -> String {
    let unit = Unit::parse(amount.unit).unwrap_or(Unit::Each);
    quantity(amount.amount, unit, shelf.units, digits)
}

fn number(number: usize) -> String {
    if number == 0 { "–".to_owned() } else { number.to_string() }
}
