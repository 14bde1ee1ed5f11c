//! Shops whose truth is known, so that what is learned and advised can be held against it.
//!
//! A [`Recipe`] and a seed draw a shop: what it is set up with, what its jobs truly take, and every
//! vehicle that will come. [`Life`] then lives it day by day: jobs take product off a real shelf,
//! bottles are opened and go off, orders arrive early or late, and a [`Habit`] decides what of it
//! is written down. Out come the facts, as a shop folder would hold them, and what was really so.
//!
//! Nothing here is shared with what learns from it: no code of the forecast is used, and a shop
//! takes the same from its shelf whoever advises it.
//!
//! ```
//! use capful_simulation::{Habit, Life, OwnersRule, Recipe};
//! let recipe = Recipe { habit: Habit::AllMeasured, weeks: 4, ..Recipe::default() };
//! let mut life = Life::new(&recipe, 1);
//! life.live_until(life.day_after_weeks(4), &mut OwnersRule::default());
//! assert!(!life.facts().pours.is_empty());
//! ```

mod books;
mod buyer;
mod calendar;
mod chance;
mod life;
mod recipe;
mod set_up;
mod shelf;
mod tally;
mod truth;

pub use buyer::{Buyer, Buys, OwnersRule, Seen};
pub use calendar::Visit;
pub use life::{Life, Thrown, Took};
pub use recipe::{Economy, Habit, NewPad, Recipe};
pub use tally::Tally;
pub use truth::{Pair, Thirst, Truth};

use capful_domain::Id;

/// An id out of this crate's own names.
fn id(text: &str) -> Id {
    known(Id::parse(text).ok())
}

/// What this crate itself made up can be read.
fn known<T>(value: Option<T>) -> T {
    value.unwrap_or_else(|| unreachable!("the simulation wrote what cannot be read"))
}
