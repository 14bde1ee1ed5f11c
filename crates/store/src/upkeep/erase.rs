//! Erasing a vehicle's words: wherever the database holds them nothing stands in their place.
//!
//! Jobs, pours, movements and the books stay as they are and add up. The words stand in the jobs
//! themselves, in what edits of jobs wrote over (by which they are undone), and in the answers that
//! are kept for requests that come again.

use capful_domain::{Id, Job};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, Order, Query, UpdateStatement};
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, DbErr, QueryResult};
use serde_json::Value;
use uuid::Uuid;

use crate::audit::audit_log::AuditAction;
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::sql;
use crate::db::store::Store;
use crate::request::write_context::By;
use crate::rows::RowMeta;

/// The column, and the key of written JSON, that a vehicle's words stand in.
const VEHICLE: &str = "vehicle";

/// Rows of written JSON that are read at a time.
const BLOCK: u64 = 1_000;

/// What was erased.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Erased {
    /// The jobs that name no vehicle any more.
    pub jobs: Vec<Id>,
    /// How many entries of the audit log held the words.
    pub edits: usize,
    /// How many kept answers held them.
    pub answers: usize,
    /// What it is known by among what was done; nothing where nothing was.
    pub deed: Option<Uuid>,
}

impl Erased {
    /// Whether the words stood nowhere.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.jobs.is_empty() && self.edits == 0 && self.answers == 0
    }
}

/// Whether two texts are the same words, whatever their capitals and the blanks around them.
fn is_same(one: &str, other: &str) -> bool {
    // By way of the large letters, so that what has two small ones is the same too.
    let folded = |text: &str| text.trim().to_uppercase().to_lowercase();
    folded(one) == folded(other)
}

/// The jobs of a shop whose vehicle these words are.
async fn jobs_of(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    words: &str,
) -> Result<Vec<(RowMeta, Job)>, StoreError> {
    let named = Some(Expr::col(VEHICLE).is_not_null());
    let mut jobs = sql::list::<Job>(connection, shop, named).await?;
    jobs.retain(|(_, job)| job.vehicle.as_deref().is_some_and(|own| is_same(own, words)));
    Ok(jobs)
}

impl Store {
    /// The jobs whose vehicle is written with these words, but for capitals and the blanks around
    /// them, in the order in which they were written down.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn jobs_of_vehicle(&self, shop: Uuid, words: &str) -> Result<Vec<Job>, StoreError> {
        let jobs = jobs_of(&self.readers, shop, words).await?;
        Ok(jobs.into_iter().map(|(_, job)| job).collect())
    }

    /// Erases a vehicle's words wherever they stand, in one transaction, and notes that it was done
    /// with the jobs that named it, without the words. Nothing is noted where they stood nowhere.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where there are no words, [`StoreError::Database`]; nothing was
    /// erased then.
    pub async fn erase_vehicle(
        &self,
        shop: Uuid,
        words: &str,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<Erased, StoreError> {
        if words.trim().is_empty() {
            let text = "vehicle: the words that are to be erased";
            return Err(StoreError::Refused(text.to_owned()));
        }
        let tx = self.begin(shop).await.map_err(failed)?;
        let jobs = jobs_of(&tx, shop, words).await?;
        let ids: Vec<Uuid> = jobs.iter().map(|(place, _)| place.id).collect();
        for ids in ids.chunks(sql::MOST_VALUES) {
            run(&tx, shop, &without_vehicle(ids)).await?;
        }
        let mut erased = Erased {
            jobs: jobs.into_iter().map(|(_, job)| job.id).collect(),
            edits: erase_in(&tx, shop, ("deed", "written"), words).await?,
            answers: erase_in(&tx, shop, ("idempotency", "body"), words).await?,
            deed: None,
        };
        if erased.is_nothing() {
            return Ok(erased);
        }
        let about = erased.jobs.iter().map(Id::as_str).collect::<Vec<_>>().join(", ");
        let what = AuditAction::VehicleErased;
        erased.deed = Some(self.note_of(&tx, (shop, now, by), what, about).await?);
        tx.commit().await.map_err(failed)?;
        self.scrub().await;
        Ok(erased)
    }

    /// Writes SQLite's file anew, so that nothing of what was erased is left in the room that is
    /// free in it. Where that fails, as others keep it busy, it is written over in time.
    async fn scrub(&self) {
        if self.writer.get_database_backend() != DbBackend::Sqlite {
            return;
        }
        for pragma in ["VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"] {
            if let Err(error) = self.writer.execute_unprepared(pragma).await {
                tracing::warn!(%error, "what was erased is still in the file's free room");
            }
        }
    }
}

fn without_vehicle(ids: &[Uuid]) -> UpdateStatement {
    let mut update = Query::update();
    update
        .table("job")
        .value(VEHICLE, None::<String>)
        .value("version", Expr::col("version").add(1))
        .and_where(sql::one_of("id", ids));
    update
}

async fn run(
    tx: &DatabaseTransaction,
    shop: Uuid,
    update: &UpdateStatement,
) -> Result<(), StoreError> {
    let mut own = update.clone();
    own.and_where(sql::of_shop(shop));
    let statement = tx.get_database_backend().build(&own);
    tx.execute_raw(statement).await.map_err(failed)?;
    Ok(())
}

/// Erases the words in the JSON that a column of a table holds; gives in how many rows.
async fn erase_in(
    tx: &DatabaseTransaction,
    shop: Uuid,
    (table, column): (&'static str, &'static str),
    words: &str,
) -> Result<usize, StoreError> {
    let (mut after, mut erased) = (Uuid::nil(), 0);
    loop {
        let rows = holding_a_vehicle(tx, shop, (table, column), after).await?;
        let Some((last, _)) = rows.last() else { return Ok(erased) };
        after = *last;
        for (id, text) in rows {
            let Some(text) = without(&text, words) else { continue };
            let mut update = Query::update();
            update.table(table).value(column, text).and_where(Expr::col("id").eq(id));
            run(tx, shop, &update).await?;
            erased += 1;
        }
    }
}

/// The next rows of a table whose JSON may hold a vehicle: their ids, and what is written.
async fn holding_a_vehicle(
    tx: &DatabaseTransaction,
    shop: Uuid,
    (table, column): (&'static str, &'static str),
    after: Uuid,
) -> Result<Vec<(Uuid, String)>, StoreError> {
    let mut next = Query::select();
    next.column("id")
        .column(column)
        .from(table)
        .and_where(sql::of_shop(shop))
        .and_where(Expr::col("id").gt(after))
        .and_where(Expr::col(column).like(format!("%\"{VEHICLE}\"%")))
        .order_by("id", Order::Asc)
        .limit(BLOCK);
    let rows = tx.query_all_raw(tx.get_database_backend().build(&next)).await.map_err(failed)?;
    let read = |row: QueryResult| Ok((row.try_get("", "id")?, row.try_get("", column)?));
    rows.into_iter().map(read).collect::<Result<_, DbErr>>().map_err(failed)
}

/// JSON without the words wherever they are a vehicle's; nothing where they are nowhere.
fn without(text: &str, words: &str) -> Option<String> {
    let mut value: Value = serde_json::from_str(text).ok()?;
    clear(&mut value, words).then(|| value.to_string())
}

fn clear(value: &mut Value, words: &str) -> bool {
    match value {
        Value::Object(own) => own.iter_mut().fold(false, |cleared, (key, own)| {
            let is_words = key == VEHICLE && own.as_str().is_some_and(|own| is_same(own, words));
            if is_words {
                *own = Value::Null;
            }
            is_words || clear(own, words) || cleared
        }),
        Value::Array(own) => {
            own.iter_mut().map(|own| clear(own, words)).filter(|cleared| *cleared).count() > 0
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_the_same_whatever_their_capitals_and_blanks() {
        assert!(is_same("GULL 404", " gull 404\t"));
        assert!(is_same("weiße Möwe", "WEISSE MÖWE"));
        assert!(!is_same("gull 404", "gull 40"));
        assert!(!is_same("gull 404", "gull  404"));
    }

    #[test]
    fn json_is_written_over_where_the_words_are_a_vehicles() {
        let text = r#"{"job":{"id":"gull","vehicle":"Gull"},"all":[{"vehicle":"gull "}]}"#;
        let value = without(text, "GULL").and_then(|text| serde_json::from_str(&text).ok());
        let right: Value = serde_json::json!({
            "job": {"id": "gull", "vehicle": null}, "all": [{"vehicle": null}]
        });
        assert_eq!(value, Some(right));
        assert_eq!(without(r#"{"vehicle":"tern"}"#, "gull"), None);
        assert_eq!(without("/jobs/J-1?done=gull", "gull"), None);
    }
}
