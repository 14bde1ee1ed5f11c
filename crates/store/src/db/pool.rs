//! How busy the connections are, for whoever watches over the service.

use std::sync::atomic::Ordering::Relaxed;

use sea_orm::{DatabaseConnection, DbBackend};

use crate::db::store::Store;

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

impl Store {
    /// Bytes of SQLite's write-ahead log, 0 where there is none. It grows for as long as a
    /// transaction of anybody goes on reading from the file, and is cut once that has ended.
    #[must_use]
    pub fn wal_bytes(&self) -> u64 {
        if self.writer.get_database_backend() != DbBackend::Sqlite {
            return 0;
        }
        let options = self.writer.get_sqlite_connection_pool().connect_options();
        let mut wal = options.get_filename().as_os_str().to_owned();
        wal.push("-wal");
        std::fs::metadata(wal).map_or(0, |file| file.len())
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
