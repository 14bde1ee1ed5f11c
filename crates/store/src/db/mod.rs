//! The database: connections, transactions, statements.

pub(crate) mod backup_status;
pub(crate) mod boxed;
pub(crate) mod connection;
pub(crate) mod disk;
pub(crate) mod error;
pub(crate) mod first_shop;
pub(crate) mod group_commit;
pub(crate) mod locks;
pub(crate) mod moments;
pub(crate) mod pending_steps;
pub(crate) mod pool;
pub(crate) mod readiness;
pub(crate) mod schema;
pub(crate) mod sql;
pub(crate) mod sqlite_file;
pub(crate) mod store;
pub(crate) mod work;
pub(crate) mod write_health;
