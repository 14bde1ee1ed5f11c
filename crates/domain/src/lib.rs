//! The rules of the shelf: quantities, products, lots, containers, the ledger, jobs and orders.
//!
//! Pure: no clock, file, network or database. Exact: quantities are integers of the thousandth of
//! a base unit, money an integer of the minor unit; no float stands in this crate.

mod as_of;
pub mod catalog;
mod check_count;
mod container;
pub mod costs;
pub mod facts;
mod id;
pub mod job;
mod ledger;
mod money;
mod order;
mod posting;
mod quantity;
mod ratio;
mod resume;
mod shelf;
mod shop;
mod snapshot;
mod stocktake;
pub mod trace;
mod words;

pub use as_of::{AsOf, NotAMoment, YEARS};
pub use catalog::{Form, JobType, NamedRatio, Offer, Product, SheetRow, Supplier};
pub use check_count::check_count;
pub use container::{Container, ContainerState, Lot, Opened, fefo};
pub use facts::Facts;
pub use id::{ContainerId, Id, MOST_CHARS, NotAnId};
pub use job::{Condition, Job, JobStatus, VehicleSize};
pub use ledger::{
    CannotReverse, Effect, FoundStock, Ledger, Movement, MovementKind, OpeningSaid, Source,
};
pub use money::{Currency, Money};
pub use order::{Delivery, LineProgress, OrderBook, Outstanding, offer_of};
pub use posting::ExpectedPour;
pub use quantity::{Amount, Dimension, Quantity, QuantityTooLarge, Unit};
pub use ratio::{MOST_WATER, NotARatio, Ratio};
pub use resume::{Kept, Left};
pub use shop::{Shop, UnitSystem};
pub use snapshot::Snapshot;
pub use words::Word;
