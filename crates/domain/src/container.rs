//! Lots and containers: one bottle, jug, tub or bag each, and what is left in it.

use std::cmp::Ordering;
use std::sync::Arc;

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::catalog::Product;
use crate::id::{ContainerId, Id};
use crate::money::Money;
use crate::quantity::Quantity;
use crate::ratio::Ratio;

/// What came in one receipt under one batch code.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// The row that brought it: a receipt, or what found it on the shelf.
    pub source: Id,
    /// The maker's batch code.
    pub code: Option<String>,
    /// The last day it is good while sealed, where one is known.
    pub best_before: Option<NaiveDate>,
    /// Cost of one container.
    pub unit_cost: Money,
    /// From whom it came.
    pub supplier: Option<Id>,
}

impl Lot {
    /// The batch code, else the row that brought it.
    #[must_use]
    pub fn name(&self) -> &str {
        self.code.as_deref().unwrap_or(self.source.as_str())
    }
}

/// What state a container is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ContainerState {
    /// In use.
    Open,
    /// Not opened yet.
    Sealed,
    /// Nothing left.
    Empty,
    /// Thrown away or sent back.
    Discarded,
}

/// How a container came to be open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opened {
    /// When.
    pub at: DateTime<Utc>,
    /// The day of it, in the shop's zone.
    pub on: NaiveDate,
    /// Whether somebody said so; else the books took it to be, as the one before was used up.
    pub seen: bool,
}

/// One bottle, jug, tub or bag.
#[derive(Debug, Clone, PartialEq)]
pub struct Container {
    /// Its name.
    pub id: ContainerId,
    /// What is in it.
    pub product: Id,
    /// The lot it belongs to.
    pub lot: Arc<Lot>,
    /// What it holds when full.
    pub size: Quantity,
    /// What is left, as product as bought: the sum of its movements.
    pub left: Quantity,
    /// When it came, or was mixed.
    pub came_at: DateTime<Utc>,
    /// Whether and when it was opened.
    pub opened: Option<Opened>,
    /// Thrown away or sent back.
    pub discarded: bool,
    /// The ratio, where it is a mix.
    pub mix: Option<Ratio>,
    /// The last day it would be good if it stayed sealed (of a mix: the last day it is good).
    pub sealed_use_by: Option<NaiveDate>,
}

impl Container {
    /// Its state.
    #[must_use]
    pub fn state(&self) -> ContainerState {
        if self.discarded {
            ContainerState::Discarded
        } else if self.left <= Quantity::ZERO {
            ContainerState::Empty
        } else if self.opened.is_some() || self.mix.is_some() {
            ContainerState::Open
        } else {
            ContainerState::Sealed
        }
    }

    /// Whether something is left that was not thrown away.
    #[must_use]
    pub fn is_live(&self) -> bool {
        !self.discarded && self.left > Quantity::ZERO
    }

    /// The last day it is good: the lot's best-before while sealed, the earlier of that and
    /// *opened + open life* once opened. `None`: no limit.
    #[must_use]
    pub fn use_by(&self, product: &Product) -> Option<NaiveDate> {
        let open_life = product.open_days.filter(|_| self.mix.is_none());
        let opened = self.opened.as_ref().zip(open_life);
        let once_opened =
            opened.and_then(|(o, life)| o.on.checked_add_days(Days::new(life.into())));
        match (self.sealed_use_by, once_opened) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }

    /// Whether it is past its use-by on a day.
    #[must_use]
    pub fn is_past(&self, product: &Product, day: NaiveDate) -> bool {
        self.use_by(product).is_some_and(|last| last < day)
    }

    /// Whether a job that uses the product at `ratio` can take it from here: a mix serves its own
    /// ratio only.
    #[must_use]
    pub fn serves(&self, ratio: Ratio) -> bool {
        self.mix.is_none_or(|own| own == ratio)
    }

    /// What is left of it, at cost.
    #[must_use]
    pub fn value_of(&self, quantity: Quantity) -> Money {
        self.lot.unit_cost.for_quantity(quantity, self.size)
    }
}

/// First expired, first out: which of two containers of one product is poured first on `day`. Good
/// before past, open before sealed, then the earlier use-by, then a mix, then the one that came
/// first.
#[must_use]
pub fn fefo(a: &Container, b: &Container, product: &Product, day: NaiveDate) -> Ordering {
    let key = |c: &Container| {
        let use_by = c.use_by(product).unwrap_or(NaiveDate::MAX);
        (c.is_past(product, day), c.state(), use_by, c.mix.is_none(), c.came_at)
    };
    key(a).cmp(&key(b))
}
