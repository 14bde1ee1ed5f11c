//! Rows of the shelf: what the books need to know of each kind before it can be posted.

use std::collections::BTreeSet;

use capful_domain::catalog::WrongMeasure;
use capful_domain::facts::{Count, Discard, Method, Mix, Opening, Pour, Receipt};
use capful_domain::{Amount, ContainerId, ExpectedPour, Id, Ledger, Product, Ratio, Source, Unit};
use chrono::{DateTime, Utc};
use rust_decimal::Decimal;

use crate::db::error::StoreError;

/// A row of the shelf.
#[derive(Debug, Clone, Copy)]
pub(crate) enum ShelfRow<'r> {
    Receipt(&'r Receipt),
    Discard(&'r Discard),
    Opening(&'r Opening),
    Mix(&'r Mix),
    Pour(&'r Pour),
    Expected(&'r ExpectedPour),
    Count(&'r Count),
}

impl ShelfRow<'_> {
    pub(crate) const fn at(&self) -> DateTime<Utc> {
        match self {
            Self::Receipt(row) => row.at,
            Self::Discard(row) => row.at,
            Self::Opening(row) => row.at,
            Self::Mix(row) => row.at,
            Self::Pour(row) => row.at,
            Self::Expected(row) => row.at,
            Self::Count(row) => row.at,
        }
    }

    pub(crate) const fn product(&self) -> &Id {
        match self {
            Self::Receipt(row) => &row.product,
            Self::Discard(row) => &row.product,
            Self::Opening(row) => &row.product,
            Self::Mix(row) => &row.product,
            Self::Pour(row) => &row.product,
            Self::Expected(row) => &row.product,
            Self::Count(row) => &row.product,
        }
    }

    /// The container that it names.
    pub(crate) const fn container(&self) -> Option<&ContainerId> {
        match self {
            Self::Discard(row) => row.container.as_ref(),
            Self::Opening(row) => row.container.as_ref(),
            Self::Mix(row) => row.container.as_ref(),
            Self::Pour(row) => row.container.as_ref(),
            Self::Count(row) => row.container.as_ref(),
            Self::Receipt(_) | Self::Expected(_) => None,
        }
    }

    /// What its movements say that they come from: its own row. What the store writes down as
    /// expected has a row, what came in without one is known by its job.
    pub(crate) fn source(&self) -> Source {
        match self {
            Self::Receipt(row) => Source::Receipt(row.id.clone()),
            Self::Discard(row) => Source::Discard(row.id.clone()),
            Self::Opening(row) => Source::Opening(row.id.clone()),
            Self::Mix(row) => Source::Mix(row.id.clone()),
            Self::Pour(row) => Source::Pour(row.id.clone()),
            Self::Expected(row) => Source::Expected(row.job.clone()),
            Self::Count(row) => Source::Count(row.id.clone()),
        }
    }

    /// The place of its kind among rows of the same moment.
    pub(crate) const fn turn(&self) -> u8 {
        match self {
            Self::Receipt(_) => 0,
            Self::Discard(_) => 1,
            Self::Opening(_) => 2,
            Self::Mix(_) => 3,
            Self::Pour(_) => 4,
            Self::Expected(_) => 5,
            Self::Count(_) => 6,
        }
    }

    pub(crate) fn post(&self, ledger: &mut Ledger) {
        match self {
            Self::Receipt(row) => ledger.receive(row),
            Self::Discard(row) => ledger.discard(row),
            Self::Opening(row) => ledger.open(row),
            Self::Mix(row) => ledger.mix(row),
            Self::Pour(row) => ledger.pour(row),
            Self::Expected(row) => ledger.pour_expected(row),
            Self::Count(row) => ledger.count(row),
        }
    }

    /// Whether its quantities fit its product.
    pub(crate) fn check(&self, product: &Product) -> Result<(), StoreError> {
        let size = |number| Amount { number, unit: product.unit };
        let (mut ratio, mut is_weighed) = (Ratio::NEAT, false);
        let amount = match self {
            Self::Receipt(row) => row.container_size.map(size),
            Self::Discard(row) => row.amount,
            Self::Mix(row) => {
                ratio = row.ratio;
                Some(row.amount)
            }
            Self::Pour(row) => {
                ratio = row.ratio.unwrap_or(Ratio::NEAT);
                Some(row.amount)
            }
            Self::Count(row) => {
                is_weighed = row.amount.is_none();
                row.amount.or(row.gross_g.map(|number| Amount { number, unit: Unit::G }))
            }
            Self::Opening(_) | Self::Expected(_) => None,
        };
        let Some(amount) = amount else { return Ok(()) };
        let is_size = matches!(self, Self::Receipt(_));
        let held = match is_weighed {
            true => product.booked_quantity(amount),
            false => product.quantity_in_mix(amount, ratio),
        };
        match held {
            _ if amount.number < Decimal::ZERO => refuse("quantity: nothing or more, never less"),
            Err(WrongMeasure::Dimension { expected }) if is_weighed => {
                refuse(&format!("{} is counted in {expected}, it is not weighed", product.id))
            }
            Err(wrong) => refuse(&format!("quantity of {}: {wrong}", product.id)),
            Ok(size) if is_size && size.is_zero() => {
                refuse("container_size: at least a thousandth of a mL, g, mm or piece")
            }
            Ok(_) => Ok(()),
        }
    }
}

fn refuse(text: &str) -> Result<(), StoreError> {
    Err(StoreError::Refused(text.to_owned()))
}

/// Which containers the books need before rows can be posted.
#[derive(Debug, Default)]
pub(crate) struct Reach {
    /// Every product that rows are of.
    pub products: BTreeSet<Id>,
    /// Of these, those of which the live containers are needed.
    pub live: BTreeSet<Id>,
    /// Of these, those of which all containers are needed: a used-up one may be looked for.
    pub all: BTreeSet<Id>,
    /// Containers that rows name.
    pub named: BTreeSet<ContainerId>,
    /// Rows that may bring containers, whose names may be taken.
    pub sources: BTreeSet<Id>,
}

impl Reach {
    pub(crate) fn of(rows: &[ShelfRow<'_>]) -> Self {
        let mut reach = Self::default();
        for row in rows {
            reach.products.insert(row.product().clone());
            reach.sources.insert(row.source().id().clone());
            reach.named.extend(row.container().cloned());
            // What an expected pour finds is named after its job.
            if let ShelfRow::Pour(Pour { method: Some(Method::Expected), job: Some(job), .. }) = row
            {
                reach.sources.insert(job.clone());
            }
            match row {
                ShelfRow::Receipt(_) => {}
                ShelfRow::Opening(_) | ShelfRow::Count(_) => {
                    reach.all.insert(row.product().clone());
                }
                _ => {
                    reach.live.insert(row.product().clone());
                }
            }
        }
        reach
    }

    /// Needs all containers of these products too; whether that is more than it needed.
    pub(crate) fn widen(&mut self, products: impl IntoIterator<Item = Id>) -> bool {
        let before = self.all.len();
        self.all.extend(products);
        self.all.len() > before
    }
}
