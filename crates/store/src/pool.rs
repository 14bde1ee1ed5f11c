//! How busy the connections are, for whoever watches over the service.

use std::sync::atomic::Ordering::Relaxed;

use sea_orm::{DatabaseConnection, DbBackend};

use crate::store::Store;

/// Connections to the database.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Connections {
    /// All that are open.
    pub open: u32,
    /// Those of them that wait for work.
    pub idle: u32,
}

impl Store {
    /// How busy the connections are.
    #[must_use]
    pub fn connections(&self) -> Connections {
        match self.writer.get_database_backend() {
            DbBackend::Sqlite => of(&self.writer).and(of(&self.readers)),
            // One pool serves both.
            _ => of(&self.writer),
        }
    }

    /// Statements that the database was asked since the store was opened.
    #[must_use]
    pub fn statements(&self) -> u64 {
        self.statements.load(Relaxed)
    }
}

impl Connections {
    const fn and(self, other: Self) -> Self {
        Self { open: self.open + other.open, idle: self.idle + other.idle }
    }
}

fn of(connection: &DatabaseConnection) -> Connections {
    let (open, idle) = match connection.get_database_backend() {
        DbBackend::Sqlite => {
            let pool = connection.get_sqlite_connection_pool();
            (pool.size(), pool.num_idle())
        }
        DbBackend::Postgres => {
            let pool = connection.get_postgres_connection_pool();
            (pool.size(), pool.num_idle())
        }
        _ => (0, 0),
    };
    Connections { open, idle: u32::try_from(idle).unwrap_or(u32::MAX) }
}
