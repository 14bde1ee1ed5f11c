//! Faults put in the way of the running program, and what is left of a shop's books.
//!
//! `capful serve` runs as a process of its own and is spoken to over HTTP. Clients work in a small
//! shop and write down what each request was told: done, refused or nothing certain. Meanwhile
//! something fails. Then the shop is opened again and held against what the clients were told.
//! `docs/faults.md` says what is injected and what is held.

#![allow(clippy::unwrap_used, missing_docs)]

pub mod books;
pub mod chance;
pub mod client;
pub mod disk;
pub mod entry;
pub mod figures;
pub mod http;
pub mod judge;
pub mod kinds;
pub mod postgres;
pub mod power_cut;
pub mod program;
pub mod proxy;
pub mod round;
pub mod shop;
pub mod stage;
