//! Containers: the shelf as the books have it.

use std::sync::Arc;

use capful_domain::{Container, ContainerId, Kept, Lot, Money, Opened, Quantity, Shop};
use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::table;
use super::text::{self, Unreadable};

table!("container", {
    own_id: String,
    meant: Option<String>,
    product: String,
    source_kind: String,
    source: String,
    lot: Option<String>,
    best_before: Option<NaiveDate>,
    unit_cost: i64,
    supplier: Option<String>,
    size: i64,
    left_over: i64,
    gained: i64,
    came_at: DateTime<Utc>,
    opened_at: Option<DateTime<Utc>>,
    opened_seen: bool,
    discarded: bool,
    water: Option<String>,
    sealed_use_by: Option<NaiveDate>,
    is_live: bool,
    movements: i64,
});

/// Stands for the kind of row that brought a container where every such row was reversed: nothing
/// knows it any more but its movements.
const GONE: &str = "gone";

/// Kinds of rows that bring containers, in the order of rows of the same moment.
const SOURCES: [&str; 7] = ["receipt", "discard", "opening", "mix", "pour", "expected", "count"];

/// A container and where it stands in the database.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct KeptRow {
    pub kept: Kept,
    pub id: Uuid,
    /// The kind of row that brought it, `gone` where none did.
    pub source_kind: String,
    /// How many movements it has.
    pub movements: i64,
}

impl KeptRow {
    /// The container's name.
    pub(crate) fn name(&self) -> &ContainerId {
        &self.kept.container.id
    }

    /// Whether no row brings it any more.
    pub(crate) fn is_gone(&self) -> bool {
        self.source_kind == GONE
    }

    /// The same, brought by no row: as if it had never been there.
    pub(crate) fn into_gone(mut self) -> Self {
        GONE.clone_into(&mut self.source_kind);
        let container = &mut self.kept.container;
        (container.left, container.opened, container.discarded) = (Quantity::ZERO, None, false);
        self.kept.gained = Quantity::ZERO;
        self
    }

    /// Its place among those of its product, in the order they came: by the moment, by the kind of
    /// row, as the order of rows is, then by the id.
    pub(crate) fn turn(&self) -> (DateTime<Utc>, u8, Uuid) {
        let kind = SOURCES.iter().position(|kind| *kind == self.source_kind);
        let kind = kind.and_then(|kind| u8::try_from(kind).ok()).unwrap_or(u8::MAX);
        (self.kept.container.came_at, kind, self.id)
    }

    pub(crate) fn to_row(&self, shop: Uuid) -> Model {
        let Container { lot, opened, .. } = &self.kept.container;
        let container = &self.kept.container;
        Model {
            shop_id: shop,
            id: self.id,
            own_id: container.id.to_string(),
            meant: text::texts(self.kept.meant.as_ref()),
            product: container.product.to_string(),
            source_kind: self.source_kind.clone(),
            source: lot.source.to_string(),
            lot: lot.code.clone(),
            best_before: lot.best_before,
            unit_cost: lot.unit_cost.minor(),
            supplier: text::texts(lot.supplier.as_ref()),
            size: container.size.ledger_units(),
            left_over: container.left.ledger_units(),
            gained: self.kept.gained.ledger_units(),
            came_at: container.came_at,
            opened_at: opened.map(|opened| opened.at),
            opened_seen: opened.is_some_and(|opened| opened.seen),
            discarded: container.discarded,
            water: container.mix.map(|ratio| ratio.water().to_string()),
            sealed_use_by: container.sealed_use_by,
            is_live: container.is_live(),
            movements: self.movements,
        }
    }

    pub(crate) fn from_row(row: &Model, shop: &Shop) -> Result<Self, Unreadable> {
        let opened = |at| Opened { at, on: shop.day_of(at), seen: row.opened_seen };
        let lot = Lot {
            source: text::id(&row.source)?,
            code: row.lot.clone(),
            best_before: row.best_before,
            unit_cost: Money::from_minor(row.unit_cost),
            supplier: text::maybe(row.supplier.as_ref(), text::id)?,
        };
        let container = Container {
            id: text::container(&row.own_id)?,
            product: text::id(&row.product)?,
            lot: Arc::new(lot),
            size: Quantity::from_ledger_units(row.size),
            left: Quantity::from_ledger_units(row.left_over),
            came_at: row.came_at,
            opened: row.opened_at.map(opened),
            discarded: row.discarded,
            mix: text::maybe(row.water.as_ref(), text::ratio)?,
            sealed_use_by: row.sealed_use_by,
        };
        let gained = Quantity::from_ledger_units(row.gained);
        let meant = text::maybe(row.meant.as_ref(), text::container)?;
        Ok(Self {
            kept: Kept { container, gained, meant },
            id: row.id,
            source_kind: row.source_kind.clone(),
            movements: row.movements,
        })
    }
}
