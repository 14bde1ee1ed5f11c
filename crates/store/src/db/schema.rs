//! The tables, columns and indexes that the migrations make, read back from a database in memory
//! that they were run on: what copies rows or checks a database cannot forget one of them.

use std::collections::BTreeSet;

use capful_migrations::Migrator;
use sea_orm::sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DbBackend, QueryResult, SqlxSqliteConnector, Statement,
};
use sea_orm_migration::MigratorTrait;

use crate::db::connection;
use crate::db::error::StoreError;
use crate::db::error::failed;

/// The table in which the migrations note which steps were made.
const STEPS: &str = "seaql_migrations";

/// The kind of values that a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ColumnKind {
    Uuid,
    Text,
    Number,
    YesNo,
    Time,
    Day,
}

impl ColumnKind {
    /// The kind that the migrations' tool declares so in SQLite.
    fn of_declared(declared: &str) -> Option<Self> {
        match declared.to_ascii_lowercase().as_str() {
            "uuid_text" => Some(Self::Uuid),
            "text" => Some(Self::Text),
            "bigint" | "integer" => Some(Self::Number),
            "boolean" => Some(Self::YesNo),
            "timestamp_with_timezone_text" => Some(Self::Time),
            "date_text" => Some(Self::Day),
            _ => None,
        }
    }
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Column {
    pub name: String,
    pub kind: ColumnKind,
}

/// A table with its columns, in the order they were made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Table {
    pub name: String,
    pub columns: Vec<Column>,
    /// The columns of its primary key, by their places.
    pub key: Vec<usize>,
    /// Tables that its rows name rows of.
    refers_to: BTreeSet<String>,
}

/// What the migrations make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Schema {
    /// Each table after those that its rows name rows of.
    pub tables: Vec<Table>,
    /// Each column, index and key as a line: `index pour_by_shop_id_job`.
    pub parts: BTreeSet<String>,
}

impl Schema {
    /// What the migrations of this version make.
    ///
    /// # Errors
    /// [`StoreError::Database`] where they fail, or make a column of a kind that no copy can hold.
    pub(crate) async fn of_migrations() -> Result<Self, StoreError> {
        let memory = SqliteConnectOptions::new().in_memory(true);
        let pool = SqlitePoolOptions::new().max_connections(1).idle_timeout(None);
        let pool = pool.max_lifetime(None).connect_with(memory).await;
        let connection =
            SqlxSqliteConnector::from_sqlx_sqlite_pool(pool.map_err(connection::failed)?);
        Migrator::up(&connection, None).await.map_err(failed)?;
        let mut tables = Vec::new();
        for name in sqlite_tables(&connection).await? {
            tables.push(table(&connection, &name).await?);
        }
        let parts = sqlite_parts(&connection).await?;
        close(connection).await;
        Ok(Self { tables: named_first(tables), parts })
    }

    /// What of this a database has not got, a line for each.
    pub(crate) async fn lacking(
        &self,
        connection: &impl ConnectionTrait,
    ) -> Result<Vec<String>, StoreError> {
        let there = match connection.get_database_backend() {
            DbBackend::Postgres => postgres_parts(connection).await?,
            _ => sqlite_parts(connection).await?,
        };
        Ok(self.parts.difference(&there).cloned().collect())
    }

    /// How many indexes and keys it has.
    pub(crate) fn indexes(&self) -> usize {
        self.parts.iter().filter(|part| !part.starts_with("column ")).count()
    }
}

async fn close(connection: DatabaseConnection) {
    // What fails to close is closed by its end.
    let _ = connection.close().await;
}

/// The rows of a statement without values.
pub(crate) async fn rows(
    connection: &impl ConnectionTrait,
    sql: &str,
) -> Result<Vec<QueryResult>, StoreError> {
    let statement = Statement::from_string(connection.get_database_backend(), sql);
    connection.query_all_raw(statement).await.map_err(failed)
}

/// The tables of an SQLite database, in the order they were made; the notes of the steps aside.
pub(crate) async fn sqlite_tables(
    connection: &impl ConnectionTrait,
) -> Result<Vec<String>, StoreError> {
    let sql = format!(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' \
         ESCAPE '\\' AND name <> '{STEPS}' ORDER BY rowid"
    );
    let rows = rows(connection, &sql).await?;
    rows.iter().map(|row| row.try_get_by_index(0).map_err(failed)).collect()
}

async fn table(connection: &impl ConnectionTrait, name: &str) -> Result<Table, StoreError> {
    let (mut columns, mut key) = (Vec::new(), Vec::new());
    for row in rows(connection, &format!("PRAGMA table_info({})", quoted(name))).await? {
        let column: String = row.try_get("", "name").map_err(failed)?;
        let declared: String = row.try_get("", "type").map_err(failed)?;
        let kind = ColumnKind::of_declared(&declared).ok_or_else(|| {
            let text = format!("no copy can hold the column {name}.{column}, of type {declared}");
            StoreError::Database(text)
        })?;
        let in_key: i64 = row.try_get("", "pk").map_err(failed)?;
        if in_key > 0 {
            key.push((in_key, columns.len()));
        }
        columns.push(Column { name: column, kind });
    }
    key.sort_unstable();
    let keys = rows(connection, &format!("PRAGMA foreign_key_list({})", quoted(name))).await?;
    let names = keys.iter().map(|row| row.try_get("", "table").map_err(failed));
    let refers_to = names.collect::<Result<_, _>>()?;
    let key = key.into_iter().map(|(_, place)| place).collect();
    Ok(Table { name: name.to_owned(), columns, key, refers_to })
}

/// A name as SQL writes it.
pub(crate) fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

/// Tables in an order in which each stands after those that its rows name rows of.
fn named_first(mut rest: Vec<Table>) -> Vec<Table> {
    let mut ordered: Vec<Table> = Vec::with_capacity(rest.len());
    while !rest.is_empty() {
        let waits = |table: &Table| {
            let waited_for = |name: &String| {
                *name != table.name && ordered.iter().all(|other| other.name != *name)
            };
            table.refers_to.iter().any(waited_for)
        };
        // Where tables name each other in a circle, they are left in the order they were made.
        let next = rest.iter().position(|table| !waits(table)).unwrap_or(0);
        ordered.push(rest.remove(next));
    }
    ordered
}

/// The columns, indexes and keys of an SQLite database.
async fn sqlite_parts(connection: &impl ConnectionTrait) -> Result<BTreeSet<String>, StoreError> {
    let mut parts = BTreeSet::new();
    for table in sqlite_tables(connection).await? {
        for row in rows(connection, &format!("PRAGMA table_info({})", quoted(&table))).await? {
            let column: String = row.try_get("", "name").map_err(failed)?;
            parts.insert(column_line(&table, &column));
        }
        for row in rows(connection, &format!("PRAGMA index_list({})", quoted(&table))).await? {
            let name: String = row.try_get("", "name").map_err(failed)?;
            let origin: String = row.try_get("", "origin").map_err(failed)?;
            if origin == "c" {
                parts.insert(index_line(&name));
                continue;
            }
            let info = rows(connection, &format!("PRAGMA index_info({})", quoted(&name))).await?;
            let columns = info.iter().map(|row| row.try_get("", "name").map_err(failed));
            let columns = columns.collect::<Result<Vec<String>, _>>()?;
            parts.insert(key_line(&table, &columns.join(", ")));
        }
    }
    Ok(parts)
}

/// The same of a schema of PostgreSQL's; an index that is not valid is none.
async fn postgres_parts(connection: &impl ConnectionTrait) -> Result<BTreeSet<String>, StoreError> {
    const COLUMNS: &str = "SELECT table_name::text, column_name::text \
         FROM information_schema.columns WHERE table_schema = current_schema()";
    const INDEXES: &str = "SELECT t.relname::text, i.relname::text, x.indisunique, \
         (SELECT string_agg(a.attname::text, ', ' ORDER BY k.place) \
            FROM unnest(x.indkey::int2[]) WITH ORDINALITY AS k(number, place) \
            JOIN pg_attribute a ON a.attrelid = t.oid AND a.attnum = k.number) \
         FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid \
         JOIN pg_class t ON t.oid = x.indrelid \
         WHERE x.indisvalid AND t.relnamespace = current_schema()::text::regnamespace";
    let text = |row: &QueryResult, place| row.try_get_by_index::<String>(place).map_err(failed);
    let mut parts = BTreeSet::new();
    for row in rows(connection, COLUMNS).await? {
        parts.insert(column_line(&text(&row, 0)?, &text(&row, 1)?));
    }
    for row in rows(connection, INDEXES).await? {
        parts.insert(index_line(&text(&row, 1)?));
        if row.try_get_by_index::<bool>(2).map_err(failed)? {
            parts.insert(key_line(&text(&row, 0)?, &text(&row, 3)?));
        }
    }
    Ok(parts)
}

fn column_line(table: &str, column: &str) -> String {
    format!("column {table}.{column}")
}

fn index_line(name: &str) -> String {
    format!("index {name}")
}

fn key_line(table: &str, columns: &str) -> String {
    format!("key of {table} ({columns})")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn every_table_stands_after_those_that_it_names() {
        let schema = Schema::of_migrations().await.unwrap();
        assert!(schema.tables.len() >= 23, "{}", schema.tables.len());
        for (place, table) in schema.tables.iter().enumerate() {
            assert!(!table.key.is_empty() && !table.columns.is_empty(), "{}", table.name);
            let before = |name: &String| schema.tables[..place].iter().any(|t| t.name == *name);
            assert!(table.refers_to.iter().all(before), "{} stands too early", table.name);
        }
        let named = |name: &str| schema.tables.iter().any(|table| table.name == name);
        assert!(named("deed") && named("idempotency") && named("session") && !named(STEPS));
        assert!(schema.parts.contains("index session_known_by_hash"), "{:?}", schema.parts);
        assert!(schema.parts.contains("key of movement (shop_id, container, number)"));
        assert!(schema.parts.contains("column shop.set_up"));
    }
}
