//! A shop in a database: SQLite, one file, or PostgreSQL.
//!
//! [`Store::open`] connects, [`Store::migrate`] makes the tables. [`Store::facts`] reads all that a
//! shop has written down, as of a moment. [`Store::change`] is the one way to change a shop: each
//! [`Change`] is one transaction together with the answer to the request that asked for it, so that
//! the same request twice changes nothing the second time.
//!
//! The store holds two things beside each other: the rows that were written down, and the books,
//! which are the containers and the movements that the rules of the shelf (`capful-domain`) made
//! of them when they were written. [`Store::check`] adds the books up again.

mod asked;
mod books;
mod change;
mod check;
mod connection;
mod deeds;
mod error;
mod facts;
mod idempotency;
mod import;
mod jobs;
mod latest;
mod listing;
mod moments;
mod orders;
mod people;
mod pool;
mod readiness;
mod replayed;
mod restate;
mod reverse;
mod rows;
mod sessions;
mod set_back;
mod setup;
mod shelf;
mod sql;
mod stamp;
mod standing;
mod store;
mod together;
mod tokens;
mod told_now;
mod undo;

pub use asked::{Answer, Asked, By, Done, Once};
pub use change::{Change, EventKind, Finish, Outcome};
pub use check::{Checked, Difference};
pub use deeds::{Deed, DeedWhat};
pub use error::StoreError;
pub use listing::{Listed, MovementFilter, Posted};
pub use people::{NewPerson, Person, Role, SigningIn};
pub use pool::Connections;
pub use rows::{Place, Stored};
pub use sessions::{NewSession, Session};
pub use stamp::SetUpStamp;
pub use store::Store;
pub use tokens::{NewToken, Scope, Token, token_hash};
