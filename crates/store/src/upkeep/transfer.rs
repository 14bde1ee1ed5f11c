//! Every row of a database into another, whatever kinds the two are: table by table and column by
//! column as the migrations make them, each side summed up in the same way.

use chrono::{DateTime, NaiveDate, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, Order, Query, SelectStatement, SimpleExpr};
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, QueryResult, Value};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::schema::{self, ColumnKind, Schema, Table};

/// Rows that are read at once.
const READ_AT_ONCE: u64 = 1_000;

/// Values that one statement writes at most: SQLite takes 32 766 of them.
const WRITTEN_AT_ONCE: usize = 30_000;

/// How far a copy is: rows copied, and rows in all.
pub type Progress<'p> = &'p (dyn Fn(u64, u64) + Send + Sync);

/// What one table comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableSum {
    /// Its name.
    pub table: String,
    /// How many rows it has.
    pub rows: u64,
    /// SHA-256 of all values in the order of its key, in small hexadecimal digits.
    pub sha256: String,
}

/// Copies every row of every table, in one transaction on each side; gives what was read.
pub(crate) async fn copy(
    from: &DatabaseTransaction,
    to: &DatabaseTransaction,
    schema: &Schema,
    progress: Progress<'_>,
) -> Result<Vec<TableSum>, StoreError> {
    let all = count_rows(from, schema).await?;
    let (mut sums, mut done) = (Vec::new(), 0);
    progress(0, all);
    for table in &schema.tables {
        let mut pages = Pages::of(table);
        while let Some(rows) = pages.next(from).await? {
            write(to, table, &rows).await?;
            done += rows.len() as u64;
            progress(done, all);
        }
        sums.push(pages.sum());
    }
    Ok(sums)
}

/// What every table comes to.
pub(crate) async fn sums(
    tx: &DatabaseTransaction,
    schema: &Schema,
) -> Result<Vec<TableSum>, StoreError> {
    let mut sums = Vec::new();
    for table in &schema.tables {
        let mut pages = Pages::of(table);
        while pages.next(tx).await?.is_some() {}
        sums.push(pages.sum());
    }
    Ok(sums)
}

/// A table that has rows, where one has.
pub(crate) async fn first_filled(
    connection: &impl ConnectionTrait,
    tables: impl Iterator<Item = &str>,
) -> Result<Option<String>, StoreError> {
    for table in tables {
        let sql = format!("SELECT 1 FROM {} LIMIT 1", schema::quoted(table));
        if !schema::rows(connection, &sql).await?.is_empty() {
            return Ok(Some(table.to_owned()));
        }
    }
    Ok(None)
}

async fn count_rows(tx: &DatabaseTransaction, schema: &Schema) -> Result<u64, StoreError> {
    let mut all = 0;
    for table in &schema.tables {
        let sql = format!("SELECT COUNT(*) FROM {}", schema::quoted(&table.name));
        let rows = schema::rows(tx, &sql).await?;
        let count = rows.first().map(|row| row.try_get_by_index::<i64>(0)).transpose();
        all += u64::try_from(count.map_err(failed)?.unwrap_or_default()).unwrap_or_default();
    }
    Ok(all)
}

/// The rows of a table in the order of its key, so many at once.
struct Pages<'t> {
    table: &'t Table,
    last: Option<Vec<Value>>,
    rows: u64,
    hash: Sha256,
    is_over: bool,
}

impl<'t> Pages<'t> {
    fn of(table: &'t Table) -> Self {
        Self { table, last: None, rows: 0, hash: Sha256::new(), is_over: false }
    }

    /// The next rows; nothing after the last.
    async fn next(
        &mut self,
        tx: &DatabaseTransaction,
    ) -> Result<Option<Vec<Vec<Value>>>, StoreError> {
        if self.is_over {
            return Ok(None);
        }
        let select = self.select(tx.get_database_backend());
        let rows = tx.query_all(&select).await.map_err(failed)?;
        let rows = rows.iter().map(|row| read(self.table, row));
        let rows: Vec<Vec<Value>> = rows.collect::<Result<_, _>>()?;
        self.is_over = (rows.len() as u64) < READ_AT_ONCE;
        let Some(last) = rows.last() else { return Ok(None) };
        self.last = Some(self.table.key.iter().map(|place| last[*place].clone()).collect());
        self.rows += rows.len() as u64;
        rows.iter().flatten().for_each(|value| add(&mut self.hash, value));
        Ok(Some(rows))
    }

    /// Rows after the last that was read, by the bytes of their keys on both databases.
    fn select(&self, backend: DbBackend) -> SelectStatement {
        let column = |place: &usize| {
            let column = &self.table.columns[*place];
            let name = schema::quoted(&column.name);
            match (column.kind, backend) {
                (ColumnKind::Text, DbBackend::Postgres) => format!("{name} COLLATE \"C\""),
                _ => name,
            }
        };
        let keys: Vec<String> = self.table.key.iter().map(column).collect();
        let mut select = Query::select();
        select.from(self.table.name.clone()).limit(READ_AT_ONCE);
        select.columns(self.table.columns.iter().map(|column| column.name.clone()));
        for key in &keys {
            select.order_by_expr(Expr::cust(key.clone()), Order::Asc);
        }
        if let Some(last) = &self.last {
            let keys = keys.into_iter().map(Expr::cust).collect::<Vec<SimpleExpr>>();
            let last = last.iter().map(|value| Expr::value(value.clone()));
            select.and_where(Expr::tuple(keys).gt(Expr::tuple(last.collect::<Vec<_>>())));
        }
        select
    }

    fn sum(self) -> TableSum {
        let digest = self.hash.finalize();
        let sha256 = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        TableSum { table: self.table.name.clone(), rows: self.rows, sha256 }
    }
}

/// The values of a row, in the order of the table's columns.
fn read(table: &Table, row: &QueryResult) -> Result<Vec<Value>, StoreError> {
    let read = |(place, column): (usize, &schema::Column)| {
        let value = match column.kind {
            ColumnKind::Uuid => row.try_get_by_index::<Option<Uuid>>(place).map(Value::from),
            ColumnKind::Text => row.try_get_by_index::<Option<String>>(place).map(Value::from),
            ColumnKind::Number => row.try_get_by_index::<Option<i64>>(place).map(Value::from),
            ColumnKind::YesNo => row.try_get_by_index::<Option<bool>>(place).map(Value::from),
            ColumnKind::Day => row.try_get_by_index::<Option<NaiveDate>>(place).map(Value::from),
            ColumnKind::Time => {
                let at = row.try_get_by_index::<Option<DateTime<Utc>>>(place);
                at.map(|at| Value::from(at.map(moments::kept)))
            }
        };
        value.map_err(|error| {
            let text = format!("{}.{} cannot be read: {error}", table.name, column.name);
            StoreError::Database(text)
        })
    };
    table.columns.iter().enumerate().map(read).collect()
}

/// Writes rows as they were read.
async fn write(
    to: &DatabaseTransaction,
    table: &Table,
    rows: &[Vec<Value>],
) -> Result<(), StoreError> {
    for rows in rows.chunks((WRITTEN_AT_ONCE / table.columns.len().max(1)).max(1)) {
        let mut insert = Query::insert();
        insert.into_table(table.name.clone());
        insert.columns(table.columns.iter().map(|column| column.name.clone()));
        for row in rows {
            let wrong = |error| StoreError::Database(format!("{}: {error}", table.name));
            insert.values(row.iter().cloned().map(Expr::value)).map_err(wrong)?;
        }
        to.execute(&insert).await.map_err(|error| {
            StoreError::Database(format!("rows of {} cannot be written: {error}", table.name))
        })?;
    }
    Ok(())
}

/// Adds a value to a sum: a mark of its kind, its length and its bytes.
fn add(hash: &mut Sha256, value: &Value) {
    let mut put = |mark: u8, bytes: &[u8]| {
        hash.update([mark]);
        hash.update((bytes.len() as u64).to_be_bytes());
        hash.update(bytes);
    };
    match value {
        Value::Uuid(Some(id)) => put(1, id.as_bytes()),
        Value::String(Some(text)) => put(2, text.as_bytes()),
        Value::BigInt(Some(number)) => put(3, &number.to_be_bytes()),
        Value::Bool(Some(yes)) => put(4, &[u8::from(*yes)]),
        Value::ChronoDateTimeUtc(Some(at)) => put(5, &at.timestamp_micros().to_be_bytes()),
        Value::ChronoDate(Some(day)) => put(6, day.to_string().as_bytes()),
        _ => put(0, &[]),
    }
}
