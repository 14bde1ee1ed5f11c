//! The containers of one product, kept in the order they are poured.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};

use crate::catalog::Product;
use crate::container::{Container, ContainerState};

/// A container's turn to be poured among those that are good, or among those that are past: the
/// order of [`crate::fefo`] without the day.
pub(crate) type Turn = (ContainerState, NaiveDate, bool, DateTime<Utc>, usize);

/// The containers of one product, by their places in the ledger.
#[derive(Debug, Clone)]
pub(crate) struct Shelf {
    pub product: Arc<Product>,
    /// All of them, in the order they came.
    pub places: Vec<usize>,
    live: BTreeSet<Turn>,
}

impl Shelf {
    pub fn new(product: &Product) -> Self {
        Self { product: Arc::new(product.clone()), places: Vec::new(), live: BTreeSet::new() }
    }

    /// The turn of the container at `place`; `None` where there is nothing to pour.
    pub fn turn_of(&self, container: &Container, place: usize) -> Option<Turn> {
        let use_by = || container.use_by(&self.product).unwrap_or(NaiveDate::MAX);
        let is_bought = container.mix.is_none();
        let turn = || (container.state(), use_by(), is_bought, container.came_at, place);
        container.is_live().then(turn)
    }

    /// Moves a container to another turn.
    pub fn change_turn(&mut self, old: Option<Turn>, new: Option<Turn>) {
        if old == new {
            return;
        }
        if let Some(turn) = old {
            self.live.remove(&turn);
        }
        self.live.extend(new);
    }

    /// Those with something in them, in no order of use.
    pub fn live(&self) -> impl Iterator<Item = usize> {
        self.live.iter().map(|turn| turn.4)
    }

    /// Those with something in them, first expired first out on `day`.
    pub fn in_turn(&self, day: NaiveDate) -> impl Iterator<Item = usize> {
        let from = |state, day| (state, day, false, DateTime::<Utc>::MIN_UTC, 0);
        let (open, sealed) = (ContainerState::Open, ContainerState::Sealed);
        let good_open = self.live.range(from(open, day)..from(sealed, NaiveDate::MIN));
        let good_sealed = self.live.range(from(sealed, day)..);
        let past_open = self.live.range(..from(open, day));
        let past_sealed = self.live.range(from(sealed, NaiveDate::MIN)..from(sealed, day));
        let all = good_open.chain(good_sealed).chain(past_open).chain(past_sealed);
        all.map(|turn| turn.4)
    }
}
