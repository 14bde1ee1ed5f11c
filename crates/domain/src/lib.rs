//! The rules of the shelf: quantities, products, lots, containers, the ledger, jobs and orders.
//!
//! Pure: no clock, file, network or database. Exact: quantities are integers of the thousandth of
//! a base unit, money an integer of the minor unit; no float stands in this crate.

pub mod catalog;
pub mod facts;
mod id;
pub mod job;
mod money;
mod quantity;
mod ratio;
mod shop;
mod words;

pub use catalog::{Form, JobType, NamedRatio, Offer, Product, SheetRow, Supplier};
pub use facts::Facts;
pub use id::{ContainerId, Id, NotAnId};
pub use job::{Condition, Job, JobStatus, VehicleSize};
pub use money::{Currency, Money};
pub use quantity::{Amount, Dimension, Quantity, QuantityTooLarge, Unit};
pub use ratio::{NotARatio, Ratio};
pub use shop::{Shop, UnitSystem};
pub use words::Word;
