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
mod backup;
mod backup_keep;
mod backup_status;
mod books;
mod boxed;
mod change;
mod check;
mod connection;
mod deeds;
mod devices;
mod disk;
mod erase;
mod error;
mod facts;
mod idempotency;
mod import;
mod inspect;
mod install;
mod jobs;
mod latest;
mod listing;
mod moments;
mod orders;
mod people;
mod pool;
mod readiness;
mod relocate;
mod replayed;
mod restate;
mod restore;
mod retention;
mod reverse;
mod rows;
mod schema;
mod sessions;
mod set_back;
mod setup;
mod shelf;
mod shops;
mod sign_in_tries;
mod sql;
mod sqlite_file;
mod stamp;
mod standing;
mod steps;
mod store;
mod together;
mod tokens;
mod told_now;
mod transfer;
mod undo;
mod wrong_sign_ins;

pub use asked::{Answer, Asked, By, Done, Once};
pub use backup::{BackupOptions, Verified, checksum_of, verify_backup};
pub use backup_keep::BackupKeep;
pub use backup_status::BackupStatus;
pub use change::{Change, EventKind, Finish, Outcome};
pub use check::{Checked, Difference};
pub use deeds::{Deed, DeedWhat, WrongSignIns};
pub use devices::Device;
pub use disk::{FreeSpace, bytes_text, free_space};
pub use erase::Erased;
pub use error::StoreError;
pub use inspect::Inspection;
pub use listing::{Listed, MovementFilter, Posted};
pub use people::{FirstRun, NewPerson, Person, PersonChanged, Role, SigningIn};
pub use pool::Connections;
pub use relocate::{Moved, move_database};
pub use restore::{Restored, restore_backup};
pub use retention::{Forgotten, Retention};
pub use rows::{Place, Stored};
pub use sessions::{NewSession, Session, SignOut};
pub use sign_in_tries::TryKey;
pub use stamp::SetUpStamp;
pub use steps::Migrated;
pub use store::Store;
pub use tokens::{NewToken, Scope, Token, token_hash};
pub use transfer::{Progress, TableSum};
