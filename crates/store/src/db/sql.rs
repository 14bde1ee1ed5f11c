//! The few shapes of statements that everything is read and written with.
//!
//! Their texts are kept stable, so that each connection prepares them once: lists of values are
//! filled up to the next power of two, and rows are written in blocks.

use capful_domain::Id;
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict, SimpleExpr};
use sea_orm::{
    ConnectionTrait, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder, QueryTrait, Statement,
    Value,
};
use uuid::Uuid;

use crate::db::error::{Failure, StoreError};
use crate::db::work::Work;
use crate::rows::{RowMeta, Stored};

/// Rows that one statement writes at most.
const BLOCK: usize = 256;

/// Values that one statement lists at most: both databases take some 32 000 of them, and lists are
/// filled up to the next power of two.
pub(crate) const MOST_VALUES: usize = 8_000;

/// That a row is this shop's.
pub(crate) fn of_shop(shop: Uuid) -> SimpleExpr {
    Expr::col("shop_id").eq(shop)
}

/// That a column holds one of these values; nothing holds where there are none.
pub(crate) fn one_of<V: Into<Value> + Clone>(column: &'static str, values: &[V]) -> SimpleExpr {
    if values.is_empty() {
        return Expr::value(1).eq(0);
    }
    Expr::col(column).is_in(filled(values))
}

/// Values filled up to the next power of two with their last.
pub(crate) fn filled<V: Clone>(values: &[V]) -> Vec<V> {
    let mut filled = values.to_vec();
    if let Some(last) = values.last() {
        filled.resize(values.len().next_power_of_two(), last.clone());
    }
    filled
}

/// A row by what it is known by.
pub(crate) async fn find<T: Stored>(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    key: &str,
) -> Result<Option<(RowMeta, T)>, Failure> {
    let own = T::Table::find().filter(of_shop(shop)).filter(Expr::col("own_id").eq(key));
    match own.one(connection).await? {
        Some(row) => Ok(Some(T::from_row(&row)?)),
        None => Ok(None),
    }
}

/// The same, where it has to be there.
pub(crate) async fn get<T: Stored>(work: &Work<'_>, key: &str) -> Result<(RowMeta, T), Failure> {
    let found = find::<T>(&work.tx, work.shop, key).await?;
    Ok(found.ok_or_else(|| not_found::<T>(key))?)
}

pub(crate) fn not_found<T: Stored>(key: &str) -> StoreError {
    StoreError::NotFound { what: T::WHAT, id: key.to_owned() }
}

/// Rows of a shop for which `condition` holds, in the order they were made.
pub(crate) async fn list<T: Stored>(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    condition: Option<SimpleExpr>,
) -> Result<Vec<(RowMeta, T)>, Failure> {
    let mut own = T::Table::find().filter(of_shop(shop));
    if let Some(condition) = condition {
        own = own.filter(condition);
    }
    let rows = own.order_by_asc(Expr::col("id")).all(connection).await?;
    rows.iter().map(|row| Ok(T::from_row(row)?)).collect()
}

/// Writes new rows, in their order; gives their ids.
pub(crate) async fn insert<T: Stored>(work: &Work<'_>, rows: &[T]) -> Result<Vec<Uuid>, Failure> {
    must_be_new(work, rows).await?;
    let ids: Vec<Uuid> = rows.iter().map(|_| work.new_id()).collect();
    let models = rows.iter().zip(&ids).map(|(row, id)| row.to_row(RowMeta::new(work.shop, *id)));
    insert_models::<T::Table>(work, models.collect()).await?;
    Ok(ids)
}

/// Refuses the first of these rows that is there already, where that may be why what was tried
/// before failed: most rows are new, so it is not asked the first time.
///
/// Rows of the shelf are asked for before they are posted. What a row of the same id brought may
/// bear a name that this one would give again, and the database would speak of that alone.
pub(crate) async fn must_be_new<T: Stored>(work: &Work<'_>, rows: &[T]) -> Result<(), Failure> {
    if !work.is_retry || !T::HAS_KEY {
        return Ok(());
    }
    for (index, row) in rows.iter().enumerate() {
        let key = row.key();
        let twice = rows[..index].iter().any(|other| other.key() == key);
        if twice || find::<T>(&work.tx, work.shop, &key).await?.is_some() {
            return Err(StoreError::Conflict { what: T::WHAT, id: key }.into());
        }
    }
    Ok(())
}

/// Writes new rows of any table, in blocks.
pub(crate) async fn insert_models<E: EntityTrait>(
    work: &Work<'_>,
    models: Vec<E::Model>,
) -> Result<(), Failure>
where
    E::Model: IntoActiveModel<E::ActiveModel>,
{
    put_models::<E>(work, models, None).await
}

/// The same, where rows of the same key are written over in some columns.
pub(crate) async fn put_models<E: EntityTrait>(
    work: &Work<'_>,
    models: Vec<E::Model>,
    on_conflict: Option<OnConflict>,
) -> Result<(), Failure>
where
    E::Model: IntoActiveModel<E::ActiveModel>,
{
    let mut models = models.into_iter().map(IntoActiveModel::into_active_model).peekable();
    while models.peek().is_some() {
        let mut insert = E::insert_many(models.by_ref().take(BLOCK));
        if let Some(on_conflict) = &on_conflict {
            insert = insert.on_conflict(on_conflict.clone());
        }
        work.write(insert.build(work.tx.get_database_backend())).await?;
    }
    Ok(())
}

/// Writes a row over, at its next version; gives that.
pub(crate) async fn overwrite<T: Stored>(
    work: &Work<'_>,
    place: RowMeta,
    row: &T,
) -> Result<i64, Failure> {
    use sea_orm::ActiveModelTrait;
    let next = RowMeta { version: place.version + 1, ..place };
    let model = row.to_row(next).into_active_model().reset_all();
    T::Table::update(model).exec_without_returning(&work.tx).await?;
    Ok(next.version)
}

/// Writes a row over that is still at the version it was read at; gives the next.
pub(crate) async fn overwrite_version<T: Stored>(
    work: &Work<'_>,
    read: RowMeta,
    row: &T,
) -> Result<i64, Failure> {
    use sea_orm::ActiveModelTrait;
    let next = RowMeta { version: read.version + 1, ..read };
    let model = row.to_row(next).into_active_model().reset_all();
    let update = T::Table::update_many().set(model).filter(of_shop(work.shop));
    let update = update.filter(Expr::col("id").eq(read.id));
    let update = update.filter(Expr::col("version").eq(read.version));
    if update.exec(&work.tx).await?.rows_affected == 1 {
        return Ok(next.version);
    }
    let (now, _) = get::<T>(work, &row.key()).await?;
    Err(StoreError::Stale { what: T::WHAT, id: row.key(), version: now.version }.into())
}

/// Statements that write, as one of PostgreSQL's: each within it (`WITH w0 AS (…), w1 AS (…)`), its
/// values numbered on from those of the one before.
pub(crate) fn within_one(statements: &[Statement]) -> String {
    let (mut text, mut before) = ("WITH ".to_owned(), 0);
    for (index, statement) in statements.iter().enumerate() {
        let comma = if index == 0 { "" } else { ", " };
        text.push_str(&format!("{comma}w{index} AS ("));
        let mut pieces = statement.sql.split('$');
        text.push_str(pieces.next().unwrap_or_default());
        for piece in pieces {
            let digits = piece.bytes().take_while(u8::is_ascii_digit).count();
            let (number, rest) = piece.split_at(digits);
            match number.parse::<usize>() {
                Ok(number) => text.push_str(&format!("${}{rest}", number + before)),
                Err(_) => text.push_str(&format!("${piece}")),
            }
        }
        text.push(')');
        before += statement.values.as_ref().map_or(0, |values| values.0.len());
    }
    text + " SELECT 1"
}

/// Pours of a job that stand.
pub(crate) fn of_job(job: &Id) -> SimpleExpr {
    Expr::col("job").eq(job.as_str()).and(Expr::col("reversed_at").is_null())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use sea_orm::DbBackend;

    #[test]
    fn statements_within_one_keep_their_values() {
        let one = |text: &str, values: Vec<i32>| {
            let values = values.into_iter().map(Value::from);
            Statement::from_sql_and_values(DbBackend::Postgres, text, values)
        };
        let pours = one("INSERT INTO pour VALUES ($1, $2), ($1, $3)", vec![1, 2, 3]);
        let answer = one("INSERT INTO answer VALUES ($1)", vec![4]);
        assert_eq!(
            within_one(&[pours, answer]),
            "WITH w0 AS (INSERT INTO pour VALUES ($1, $2), ($1, $3)), \
             w1 AS (INSERT INTO answer VALUES ($4)) SELECT 1"
        );
    }
}
