//! Plans and backtests as text for people: one screen of 80 columns, and each part of it in full.

mod backtest;
mod going_off;
mod ink;
mod job;
mod lack;
mod numbers;
mod order;
mod people;
mod product;
mod readiness;
mod screen;
mod shelf;
mod table;
mod text;
mod tokens;
mod usage;
mod view;
mod warnings;

pub use backtest::backtest_screen;
pub use ink::Ink;
pub(crate) use ink::Tone;
pub(crate) use numbers::{Digits, counted};
pub use people::person_table;
pub use screen::screen;
pub use shelf::{shelf_of, shelf_screen};
pub(crate) use table::{Cell, Column, Table};
pub(crate) use text::{bullet, heading, paragraph};
pub use tokens::token_table;
pub use view::View;

/// One part of the plan in full; `None` where nothing is called `what`.
#[must_use]
pub fn open(view: &View<'_>, what: &str) -> Option<String> {
    match what {
        "order" => Some(order::in_full(view)),
        "readiness" => Some(readiness::in_full(view)),
        "going-off" => Some(going_off::in_full(view)),
        "products" => Some(product::all(view)),
        "usage" => Some(usage::in_full(view)),
        "warnings" => Some(warnings::in_full(view)),
        id => product::in_full(view, id).or_else(|| job::in_full(view, id)),
    }
}
