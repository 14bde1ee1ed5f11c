//! Looking a database over: the file itself, its indexes and keys, and rows that are only read
//! when something is asked again or looked up.

use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{DatabaseTransaction, DbBackend, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use crate::audit::audit_log::AuditEntry;
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::schema::{self, Schema};
use crate::db::sql;
use crate::db::store::Store;
use crate::queries::facts;
use crate::rows::{DeedModel, Deeds, Idempotency, IdempotencyModel};

/// Rows that are read at once.
const AT_ONCE: u64 = 1_000;

/// What looking a database over found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Inspection {
    /// Whether it is a file of its own, which was read from end to end.
    pub is_file: bool,
    /// Indexes and keys that the migrations make.
    pub indexes: usize,
    /// Answers that are kept for requests that come twice.
    pub answers: usize,
    /// Entries in the list of who did what.
    pub audit_entries: usize,
    /// Where the file is damaged: none, if all is well.
    pub damaged: Vec<String>,
    /// What else is wrong: none, if all is well.
    pub wrong: Vec<String>,
}

impl Inspection {
    /// Whether nothing was found.
    #[must_use]
    pub fn is_well(&self) -> bool {
        self.damaged.is_empty() && self.wrong.is_empty()
    }
}

impl Store {
    /// Looks the database over: of SQLite the file and its foreign keys, of PostgreSQL whether its
    /// indexes and constraints are valid; that every index is there, and that kept answers and the
    /// list of who did what can be read.
    ///
    /// # Errors
    /// [`StoreError::Database`] where it cannot be looked over at all.
    pub async fn inspect(&self) -> Result<Inspection, StoreError> {
        let schema = Schema::of_migrations().await?;
        let tx = self.begin_reading().await?;
        let found = inspect(&tx, &schema).await?;
        // What only read has nothing to lose; a damaged file fails here once more.
        let _ = tx.rollback().await;
        Ok(found)
    }
}

/// Looks a database of this version over, in a transaction that reads of one moment.
pub(crate) async fn inspect(
    tx: &DatabaseTransaction,
    schema: &Schema,
) -> Result<Inspection, StoreError> {
    let mut found = inspect_file(tx).await?;
    if !found.damaged.is_empty() {
        return Ok(found);
    }
    found.indexes = schema.indexes();
    let lacking = schema.lacking(tx).await?;
    found.wrong.extend(lacking.iter().map(|part| format!("the database has no {part}")));
    for (shop, _) in facts::shops(tx).await? {
        read_answers(tx, shop, &mut found).await?;
        read_deeds(tx, shop, &mut found).await?;
    }
    Ok(found)
}

/// Looks over what does not hang on the version of the tables.
pub(crate) async fn inspect_file(tx: &DatabaseTransaction) -> Result<Inspection, StoreError> {
    use sea_orm::ConnectionTrait as _;
    let mut found = Inspection::default();
    if tx.get_database_backend() == DbBackend::Postgres {
        found.wrong.extend(lines(tx, NOT_VALID).await?);
        return Ok(found);
    }
    found.is_file = true;
    // A page that is beyond reading ends the check itself: that is an answer too.
    match lines(tx, "PRAGMA integrity_check").await {
        Ok(lines) => found.damaged.extend(lines.into_iter().filter(|line| line != "ok")),
        Err(error) => found.damaged.push(error.to_string()),
    }
    if found.damaged.is_empty() {
        found.wrong.extend(lines(tx, FOREIGN_KEYS).await?);
    }
    Ok(found)
}

/// Rows of SQLite's that name rows which are not there.
const FOREIGN_KEYS: &str = "SELECT format('%d rows of %s name a row of %s that is not there', \
     COUNT(*), \"table\", parent) FROM pragma_foreign_key_check GROUP BY \"table\", parent";

/// Indexes and constraints of PostgreSQL's that do not hold.
const NOT_VALID: &str = "SELECT 'the index ' || i.relname || ' is not valid' FROM pg_index x \
     JOIN pg_class i ON i.oid = x.indexrelid \
     WHERE NOT x.indisvalid AND i.relnamespace = current_schema()::text::regnamespace \
     UNION ALL SELECT 'the constraint ' || conname || ' was never validated' FROM pg_constraint \
     WHERE NOT convalidated AND connamespace = current_schema()::text::regnamespace";

async fn lines(tx: &DatabaseTransaction, sql: &str) -> Result<Vec<String>, StoreError> {
    let rows = schema::rows(tx, sql).await?;
    rows.iter().map(|row| row.try_get_by_index(0).map_err(failed)).collect()
}

async fn read_answers(
    tx: &DatabaseTransaction,
    shop: Uuid,
    found: &mut Inspection,
) -> Result<(), StoreError> {
    let mut last = Uuid::nil();
    loop {
        let own = Idempotency::find().filter(sql::of_shop(shop)).filter(Expr::col("id").gt(last));
        let rows = own.order_by_asc(Expr::col("id")).limit(AT_ONCE).all(tx).await;
        let rows = rows.map_err(failed)?;
        let Some(row) = rows.last() else { return Ok(()) };
        last = row.id;
        found.answers += rows.len();
        let odd = rows.iter().filter(|row| !can_be_given(row));
        found.wrong.extend(odd.map(|row| {
            format!("the answer kept for the request `{}` cannot be given again", row.own_id)
        }));
    }
}

/// Whether an answer can be given again: to the same request, and with a status that there is.
fn can_be_given(row: &IdempotencyModel) -> bool {
    (100..=599).contains(&row.status) && !row.own_id.is_empty() && !row.fingerprint.is_empty()
}

async fn read_deeds(
    tx: &DatabaseTransaction,
    shop: Uuid,
    found: &mut Inspection,
) -> Result<(), StoreError> {
    let mut last = Uuid::nil();
    loop {
        let own = Deeds::find().filter(sql::of_shop(shop)).filter(Expr::col("id").gt(last));
        let rows = own.order_by_asc(Expr::col("id")).limit(AT_ONCE).all(tx).await;
        let rows: Vec<DeedModel> = rows.map_err(failed)?;
        let Some(row) = rows.last() else { return Ok(()) };
        last = row.id;
        found.audit_entries += rows.len();
        let unreadable =
            rows.iter().filter_map(|row| AuditEntry::of_row(row).err().map(|e| (row, e)));
        found.wrong.extend(unreadable.map(|(row, error)| {
            format!("the entry {} of who did what cannot be read: {error}", row.id)
        }));
    }
}
