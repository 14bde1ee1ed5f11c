//! The same request twice: it is done once and answered twice.

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{ConnectionTrait, DatabaseTransaction, EntityTrait, IntoActiveModel, QueryFilter};
use uuid::Uuid;

use crate::db::error::failed;
use crate::db::error::{Failure, StoreError};
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::db::work::Work;
use crate::request::write_context::{Answer, Once, WriteContext};
use crate::rows::{Idempotency, IdempotencyModel};

/// The answer that the request got, where it came before and was done.
pub(crate) async fn answer_before(
    store: &Store,
    asked: &WriteContext,
) -> Result<Option<Answer>, StoreError> {
    answer_in(&store.readers, asked).await
}

/// The same, as it is seen in a transaction or out of one.
pub(crate) async fn answer_in(
    connection: &impl ConnectionTrait,
    asked: &WriteContext,
) -> Result<Option<Answer>, StoreError> {
    let Some(once) = &asked.once else { return Ok(None) };
    let known = Idempotency::find()
        .filter(Expr::col("shop_id").eq(asked.shop))
        .filter(Expr::col("own_id").eq(once.key.as_str()));
    let row = known.one(connection).await.map_err(failed)?;
    let Some(row) = row else { return Ok(None) };
    if row.fingerprint != once.fingerprint {
        return Err(StoreError::SameKeyOtherBody);
    }
    let status = u16::try_from(row.status).unwrap_or(200);
    Ok(Some(Answer { status, body: row.body }))
}

/// Keeps the answer to a request, in its transaction. Where another service was faster with the
/// same key, the row is there already and the whole is tried again.
pub(crate) async fn keep(work: &Work<'_>, once: &Once, answer: &Answer) -> Result<(), Failure> {
    let row = row(work.shop, work.new_id(), once, answer, work.now);
    crate::db::sql::put_models::<Idempotency>(work, vec![row], None).await
}

fn row(
    shop_id: Uuid,
    id: Uuid,
    once: &Once,
    answer: &Answer,
    made_at: DateTime<Utc>,
) -> IdempotencyModel {
    IdempotencyModel {
        shop_id,
        id,
        own_id: once.key.clone(),
        fingerprint: once.fingerprint.clone(),
        status: answer.status.into(),
        body: answer.body.clone(),
        made_at,
    }
}

impl Store {
    /// Keeps the answer to a request that is no change of the shelf, in its transaction.
    pub(crate) async fn keep_answer(
        &self,
        tx: &DatabaseTransaction,
        asked: &WriteContext,
        answer: &Answer,
    ) -> Result<(), StoreError> {
        let Some(once) = &asked.once else { return Ok(()) };
        let row = row(asked.shop, self.new_uuid(asked.now), once, answer, moments::kept(asked.now));
        let insert = Idempotency::insert(row.into_active_model());
        insert.exec_without_returning(tx).await.map_err(failed)?;
        Ok(())
    }

    /// The answer that a request got, where it came before and was done.
    ///
    /// # Errors
    /// [`StoreError::SameKeyOtherBody`], [`StoreError::Database`].
    pub async fn answered_before(
        &self,
        asked: &WriteContext,
    ) -> Result<Option<Answer>, StoreError> {
        answer_before(self, asked).await
    }

    /// Forgets the answers that were given before a moment, at least a day ago; gives how many.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_answers(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let mut forgotten = 0;
        // Shop by shop, as answers are sought by.
        for (shop, _) in self.shops().await? {
            let old = Idempotency::delete_many()
                .filter(sql::of_shop(shop))
                .filter(Expr::col("made_at").lt(before));
            forgotten += old.exec(&self.writer).await.map_err(failed)?.rows_affected;
        }
        Ok(forgotten)
    }
}
