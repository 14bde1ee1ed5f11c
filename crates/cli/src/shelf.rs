//! The shelf as its ledger adds up, in the shape that programs read.

use capful_domain::{
    ContainerState, FoundStock, Ledger, Money, MovementKind, Product, Quantity, Snapshot,
    UnitSystem,
};
use capful_forecast::plan::AmountIn;
use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// What the ledger of a shop comes to.
#[derive(Debug, Clone, Serialize)]
pub struct Shelf {
    /// The shop's name.
    pub shop: String,
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// ISO 4217 code of all money in it.
    pub currency: String,
    /// How many movements were added up.
    pub movements: usize,
    /// What the live containers hold, at cost.
    #[serde(with = "rust_decimal::serde::str")]
    pub value: Decimal,
    /// Each product and its containers.
    pub products: Vec<ProductShelf>,
    /// Containers whose books are not the sum of their movements.
    pub differences: Vec<Difference>,
    /// What of the database was looked at beside the books; nothing of a folder.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub database: Option<CheckedDatabase>,
    /// How quantities are shown.
    #[serde(skip)]
    pub units: UnitSystem,
}

/// One product on the shelf.
#[derive(Debug, Clone, Serialize)]
pub struct ProductShelf {
    /// The product's id.
    pub product: String,
    /// The name on the shelf.
    pub name: String,
    /// Everything left, past its use-by or not.
    pub left: AmountIn,
    /// What of it is past its use-by.
    pub past_use_by: AmountIn,
    /// What is left, at cost.
    #[serde(with = "rust_decimal::serde::str")]
    pub value: Decimal,
    /// Taken beyond what the books held since the last count: the product wants a count.
    pub found_stock: Option<Found>,
    /// Containers with something in them, in the order they are poured.
    pub containers: Vec<OnShelf>,
}

/// Stock that the books did not hold when it was poured.
#[derive(Debug, Clone, Serialize)]
pub struct Found {
    /// How much.
    pub surplus: AmountIn,
    /// The last day it was seen.
    pub last_on: NaiveDate,
    /// Whether a pour was measured, and not merely expected.
    pub measured: bool,
    /// What became of it: `poured`, `mixed`, `thrown away`, or `taken` for more than one of these.
    pub kind: &'static str,
}

/// One container with something in it.
#[derive(Debug, Clone, Serialize)]
pub struct OnShelf {
    /// Its id.
    pub container: String,
    /// Its lot's batch code, else the row that brought it.
    pub lot: String,
    /// `sealed` or `open`.
    pub state: &'static str,
    /// The ratio, where it is a mix: parts of water to one part of product.
    pub water: Option<f64>,
    /// What is left, as product as bought.
    pub left: AmountIn,
    /// The day it was opened.
    pub opened_on: Option<NaiveDate>,
    /// The last day it is good.
    pub use_by: Option<NaiveDate>,
}

/// A container whose books are not the sum of its movements.
#[derive(Debug, Clone, Serialize)]
pub struct Difference {
    /// Its id.
    pub container: String,
    /// What the books say, in ledger units.
    pub books: i64,
    /// What its movements add up to, in ledger units.
    pub sum: i64,
}

/// What looking a database over found.
#[derive(Debug, Clone, Serialize)]
pub struct CheckedDatabase {
    /// Whether it is a file of its own, read from end to end.
    pub file: bool,
    /// Indexes and keys that were there to be found.
    pub indexes: usize,
    /// Answers that are kept for requests that come twice.
    pub answers: usize,
    /// Entries in the list of who did what.
    pub audit_entries: usize,
    /// What is wrong, a line for each.
    pub wrong: Vec<String>,
}

impl CheckedDatabase {
    /// What was found.
    #[must_use]
    pub fn of(found: &capful_store::Inspection) -> Self {
        Self {
            file: found.is_file,
            indexes: found.indexes,
            answers: found.answers,
            audit_entries: found.audit_entries,
            wrong: found.damaged.iter().chain(&found.wrong).cloned().collect(),
        }
    }
}

impl Shelf {
    /// The shelf of a shop at the snapshot's moment, added up from its rows.
    #[must_use]
    pub fn of(snapshot: &Snapshot) -> Self {
        let ledger = snapshot.ledger(&capful_forecast::expected_pours(snapshot));
        Self::of_books(snapshot, &ledger)
    }

    /// The shelf of a shop as these books have it.
    #[must_use]
    pub fn of_books(snapshot: &Snapshot, ledger: &Ledger) -> Self {
        let shop = &snapshot.facts.shop;
        let products = snapshot.facts.products.iter();
        let products: Vec<_> = products.map(|p| ProductShelf::of(p, snapshot, ledger)).collect();
        let differences = ledger.differences().into_iter().map(|(container, books, sum)| {
            let (books, sum) = (books.ledger_units(), sum.ledger_units());
            Difference { container: container.to_string(), books, sum }
        });
        Self {
            shop: shop.name.clone(),
            as_of: snapshot.day,
            currency: shop.currency.code().to_owned(),
            movements: ledger.movements().len(),
            value: products.iter().map(|p| p.value).sum(),
            products,
            differences: differences.collect(),
            database: None,
            units: shop.units,
        }
    }
}

impl ProductShelf {
    fn of(product: &Product, snapshot: &Snapshot, ledger: &Ledger) -> Self {
        let day = snapshot.day;
        let live = ledger.live_containers(&product.id, day);
        let past = live.iter().filter(|c| c.is_past(product, day)).map(|c| c.left).sum();
        let value = live.iter().map(|c| c.value_of(c.left)).sum::<Money>();
        let amount = |quantity| amount_of(product, quantity);
        let found = ledger.found_stock().remove(&product.id);
        let containers = live.iter().map(|c| OnShelf {
            container: c.id.to_string(),
            lot: c.lot.name().to_owned(),
            state: if c.state() == ContainerState::Sealed { "sealed" } else { "open" },
            water: c.mix.and_then(|ratio| ratio.water().to_f64()),
            left: amount(c.left),
            opened_on: c.opened.map(|opened| opened.on),
            use_by: c.use_by(product),
        });
        Self {
            product: product.id.to_string(),
            name: product.name.clone(),
            left: amount(ledger.left_of(&product.id)),
            past_use_by: amount(past),
            value: value.to_decimal(snapshot.facts.shop.currency),
            found_stock: found.map(|found| Found {
                surplus: amount(found.surplus),
                last_on: snapshot.facts.shop.day_of(found.at),
                measured: found.measured,
                kind: what_became_of(&found),
            }),
            containers: containers.collect(),
        }
    }
}

const fn what_became_of(found: &FoundStock) -> &'static str {
    match found.kind {
        Some(MovementKind::Mixed) => "mixed",
        Some(MovementKind::Discarded) => "thrown away",
        Some(_) => "poured",
        None => "taken",
    }
}

fn amount_of(product: &Product, quantity: Quantity) -> AmountIn {
    let amount = quantity.in_unit(product.unit).round_dp(3).to_f64().unwrap_or_default();
    AmountIn { amount, unit: product.unit.symbol() }
}
