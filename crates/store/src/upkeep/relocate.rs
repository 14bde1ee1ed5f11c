//! A whole database moved to another, of the other kind or of the same: every row of every table,
//! in one transaction on each side, held against each other before the end.

use std::path::Path;

use capful_migrations::Migrator;
use chrono::{DateTime, Utc};
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, TransactionTrait,
};
use sea_orm_migration::MigratorTrait;
use uuid::Uuid;

use crate::books::check::{self, Checked};
use crate::db::disk::{self, FreeSpace, file_error};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::pending_steps as steps;
use crate::db::schema::{self, Schema};
use crate::db::sqlite_file;
use crate::db::store::Store;
use crate::queries::facts;
use crate::upkeep::install::{self, Replace};
use crate::upkeep::transfer::{self, Progress, TableSum};

/// What was moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// Each table, as it was read and as it was written.
    pub tables: Vec<TableSum>,
    /// Each shop's books, added up again on the one side and on the other.
    pub shops: Vec<(Uuid, Checked)>,
}

impl Moved {
    /// All rows of all tables.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.tables.iter().map(|table| table.rows).sum()
    }
}

impl Store {
    /// What every table comes to: the same on two databases that hold the same.
    ///
    /// # Errors
    /// [`StoreError::Database`], as where tables are missing.
    pub async fn table_sums(&self) -> Result<Vec<TableSum>, StoreError> {
        let schema = Schema::of_migrations().await?;
        let tx = self.begin_reading().await?;
        let sums = transfer::sums(&tx, &schema).await?;
        tx.commit().await.map_err(failed)?;
        Ok(sums)
    }
}

/// Moves a whole database into an empty one, which is made where there is none: all of it or
/// nothing. The one that it is moved from stays as it is.
///
/// # Errors
/// [`StoreError::Refused`] where the target is not empty, the source's tables are of an older
/// version, or the disk is too full; [`StoreError::Database`].
pub async fn move_database(
    from: &Store,
    to: &str,
    now: DateTime<Utc>,
    free_space: FreeSpace<'_>,
    progress: Progress<'_>,
) -> Result<Moved, StoreError> {
    if !to.starts_with("sqlite:") {
        return into_postgres(&from.readers, to, progress).await;
    }
    let target = sqlite_file::path_of(to)?;
    disk::hold_room(&target, from.size().await?, free_space)?;
    let part = disk::part_of(&target)?;
    let moved = fill_part(&from.readers, &part, progress).await?;
    install::install(part, &target, Replace::Empty, now).await?;
    Ok(moved)
}

/// Writes a database row by row into an SQLite file that nobody knows yet.
pub(crate) async fn into_part(
    store: &Store,
    part: &Path,
    progress: Progress<'_>,
) -> Result<(), StoreError> {
    fill_part(&store.readers, part, progress).await.map(|_| ())
}

async fn fill_part(
    from: &DatabaseConnection,
    part: &Path,
    progress: Progress<'_>,
) -> Result<Moved, StoreError> {
    let to = sqlite_file::open_part(part).await?;
    Migrator::up(&to, None).await.map_err(failed)?;
    let moved = copy_all(from, &to, progress).await;
    // What fails to close is closed by its end.
    let _ = to.close().await;
    disk::sync(part).map_err(|error| file_error(part, &error))?;
    moved
}

/// Moves a database into PostgreSQL, whose tables are made where there are none.
pub(crate) async fn into_postgres(
    from: &DatabaseConnection,
    to: &str,
    progress: Progress<'_>,
) -> Result<Moved, StoreError> {
    let to = Store::open(to).await?;
    let made = async {
        let pending = to.pending().await?;
        if pending == steps::all() {
            to.migrate().await?;
        } else if pending > 0 {
            let text = "the database to write to has tables of an older version, and is not \
                        empty: name an empty one";
            return Err(StoreError::Refused(text.to_owned()));
        }
        copy_all(from, &to.writer, progress).await
    };
    let moved = made.await;
    to.close().await;
    moved
}

/// Copies everything in one transaction on each side, and holds the two against each other before
/// the end of the one that was written.
async fn copy_all(
    from: &DatabaseConnection,
    to: &DatabaseConnection,
    progress: Progress<'_>,
) -> Result<Moved, StoreError> {
    let schema = Schema::of_migrations().await?;
    let reading = facts::begin_reading(from).await?;
    let behind = steps::pending(&reading).await?.len();
    if behind > 0 {
        let text = format!(
            "the database to read from has tables of an older version ({behind} steps behind): \
             `capful migrate` brings them up"
        );
        return Err(StoreError::Refused(text));
    }
    let writing = to.begin().await.map_err(failed)?;
    wait_longer(&reading).await?;
    wait_longer(&writing).await?;
    hold_empty(&writing, &schema).await?;
    let tables = transfer::copy(&reading, &writing, &schema, progress).await?;
    let shops = add_up_all(&reading).await?;
    reading.commit().await.map_err(failed)?;
    let written = transfer::sums(&writing, &schema).await?;
    for (read, written) in tables.iter().zip(&written) {
        if read != written {
            let text = format!(
                "nothing was written: of {}, {} rows were read and {} came to something else",
                read.table, read.rows, written.rows
            );
            return Err(StoreError::Database(text));
        }
    }
    if add_up_all(&writing).await? != shops {
        let text = "nothing was written: the books come to something else on the other side";
        return Err(StoreError::Database(text.to_owned()));
    }
    writing.commit().await.map_err(failed)?;
    Ok(Moved { tables, shops })
}

/// One side may be idle for as long as the other works.
async fn wait_longer(tx: &DatabaseTransaction) -> Result<(), StoreError> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let set = "SET LOCAL idle_in_transaction_session_timeout = 0";
        tx.execute_unprepared(set).await.map_err(failed)?;
    }
    Ok(())
}

/// Sees to it that nothing stands in any table, and that nobody else writes to one until the end.
async fn hold_empty(tx: &DatabaseTransaction, schema: &Schema) -> Result<(), StoreError> {
    if tx.get_database_backend() == DbBackend::Postgres {
        let tables = schema.tables.iter().map(|table| schema::quoted(&table.name));
        let tables = tables.collect::<Vec<_>>().join(", ");
        let lock = format!("LOCK TABLE {tables} IN ACCESS EXCLUSIVE MODE");
        tx.execute_unprepared(&lock).await.map_err(failed)?;
    }
    let names = schema.tables.iter().map(|table| table.name.as_str());
    match transfer::first_filled(tx, names).await? {
        None => Ok(()),
        Some(table) => Err(not_empty(&table)),
    }
}

fn not_empty(table: &str) -> StoreError {
    let text = format!(
        "the database to write to is not empty (there are rows in its table `{table}`), so \
         nothing was written: name an empty one"
    );
    StoreError::Refused(text)
}

async fn add_up_all(tx: &DatabaseTransaction) -> Result<Vec<(Uuid, Checked)>, StoreError> {
    let mut shops = Vec::new();
    for (shop, _) in facts::shops(tx).await? {
        let mut checked = check::add_up(tx, shop).await?;
        checked.otherwise.sort_by(|one, other| one.container.cmp(&other.container));
        shops.push((shop, checked));
    }
    Ok(shops)
}
