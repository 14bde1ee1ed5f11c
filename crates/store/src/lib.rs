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
//!
//! One folder for each part, each knowing those before it: `rows`, `db`, `queries`, `request`,
//! `audit`, `people`, `books`, `commands`, `upkeep`.

mod audit;
mod books;
mod commands;
mod db;
mod people;
mod queries;
mod request;
mod rows;
mod upkeep;

pub use audit::audit_log::{AuditAction, AuditEntry, WrongSignIns};
pub use books::check::{Checked, Difference};
pub use db::backup_status::BackupStatus;
pub use db::disk::{FreeSpace, bytes_text, free_space};
pub use db::error::StoreError;
pub use db::pool::Connections;
pub use db::store::Store;
pub use people::accounts::{FirstRun, NewPerson, Person, PersonChanged, Role, SigningIn};
pub use people::devices::Device;
pub use people::sessions::{NewSession, Session, SignOut};
pub use people::sign_in_tries::TryKey;
pub use people::tokens::{NewToken, Scope, Token, token_hash};
pub use queries::listing::{MovementFilter, Posted, Versioned};
pub use request::change::{Change, Effects, EventKind, Finish};
pub use request::setup_version::SetupVersion;
pub use request::write_context::{Answer, Answered, By, Once, WriteContext};
pub use rows::{RowMeta, Stored};
pub use upkeep::backup::{BackupOptions, Verified, checksum_of, verify_backup};
pub use upkeep::backup_keep::BackupKeep;
pub use upkeep::erase::Erased;
pub use upkeep::inspect::Inspection;
pub use upkeep::relocate::{Moved, move_database};
pub use upkeep::restore::{Restored, restore_backup};
pub use upkeep::retention::{Forgotten, Retention};
pub use upkeep::steps::Migrated;
pub use upkeep::transfer::{Progress, TableSum};
