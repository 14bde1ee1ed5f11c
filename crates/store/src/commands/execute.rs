//! The one way that everything is changed: a transaction, and the answer that is kept with it.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use uuid::Uuid;

use crate::audit::audit_log;
use crate::db::boxed::Boxed;
use crate::db::error::{Failure, StoreError};
use crate::db::moments;
use crate::db::store::Store;
use crate::db::work::Work;
use crate::request::change::{Change, Effects};
use crate::request::cut_moments::cut_change;
use crate::request::idempotency;
use crate::request::write_context::{Answer, Answered, WriteContext};

/// How often a change is tried where others are faster.
const TRIES: u32 = 20;

/// How often a change is tried again where a row that it does not see is in its way.
const TAKEN_TRIES: u32 = 3;

/// Makes the answer that is kept for what was done.
type Answering<'a> = &'a (dyn Fn(&Effects) -> Answer + Send + Sync);

impl Work<'_> {
    /// Does one thing, and writes down who did it and what was answered.
    async fn all_of(
        &self,
        asked: &WriteContext,
        change: &Change,
        answer: Answering<'_>,
    ) -> Result<Answered<Effects>, Failure> {
        let mut outcome = self.apply(change).await?;
        self.defer_writes();
        self.stamp(change).await?;
        outcome.deed = audit_log::keep(self, asked.by, change, &outcome).await?;
        let answer = answer(&outcome);
        if let Some(once) = &asked.once {
            idempotency::keep(self, once, &answer).await?;
        }
        self.flush_writes().await?;
        Ok(Answered::Fresh(outcome, answer))
    }
}

impl Store {
    /// Does one thing to a shop, whole or not at all, and keeps `answer`, which is given again to
    /// the same request.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub async fn change(
        &self,
        asked: &WriteContext,
        change: &Change,
        answer: impl Fn(&Effects) -> Answer + Send + Sync,
    ) -> Result<Answered<Effects>, StoreError> {
        self.change_boxed(asked, change, &answer).await
    }

    /// The whole way of a change, whatever makes the answer.
    fn change_boxed<'a>(
        &'a self,
        asked: &'a WriteContext,
        change: &'a Change,
        answer: Answering<'a>,
    ) -> Boxed<'a, Result<Answered<Effects>, StoreError>> {
        Box::pin(async move {
            let _running = self.run(asked)?;
            let change = &cut_change(change);
            let mut last = String::new();
            for attempt in 0..TRIES {
                if attempt > 0 {
                    tokio::time::sleep(Duration::from_millis(attempt.into())).await;
                }
                let failure = match self.try_change(asked, change, answer, attempt > 0).await {
                    Ok(done) => {
                        self.write_health.proven(asked.now);
                        return Ok(done);
                    }
                    Err(failure) => failure,
                };
                if let Failure::Final(StoreError::Unavailable(_)) = &failure {
                    self.write_health.failed();
                }
                // Most requests come once: whether this one came before is asked when it fails, as
                // it does if it was done already.
                if let Some(before) = idempotency::answer_before(self, asked).await? {
                    return Ok(Answered::Replayed(before));
                }
                match failure {
                    Failure::Final(error) => return Err(error),
                    Failure::Taken(text) if attempt >= TAKEN_TRIES => {
                        return Err(StoreError::Database(text));
                    }
                    Failure::Again(text) | Failure::Taken(text) => last = text,
                }
            }
            Err(StoreError::Busy(format!("tried {TRIES} times: {last}")))
        })
    }

    /// The same, where nobody waits for an answer that could be given again.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub async fn change_plainly(
        &self,
        asked: &WriteContext,
        change: &Change,
    ) -> Result<Effects, StoreError> {
        let nothing = |_: &Effects| Answer { status: 200, body: String::new() };
        let done = self.change(asked, change, nothing).await?;
        Ok(done.now().unwrap_or_default())
    }

    async fn try_change(
        &self,
        asked: &WriteContext,
        change: &Change,
        answer: Answering<'_>,
        is_retry: bool,
    ) -> Result<Answered<Effects>, Failure> {
        let together = self.together.of(self.writer.get_database_backend(), asked.shop);
        let (turn, tx) = together.turn(self, asked.shop).await?;
        let work = Work {
            store: self,
            tx,
            shop: asked.shop,
            now: moments::kept(asked.now),
            if_match: asked.if_match,
            is_first: asked.is_first,
            is_retry,
            later: Mutex::default(),
        };
        match work.all_of(asked, change, answer).await {
            Ok(done) => {
                turn.end(work.tx, is_retry).await?;
                Ok(done)
            }
            Err(failure) => {
                turn.give_back(work.tx).await;
                Err(failure)
            }
        }
    }

    /// Notes that a request runs, until what is given back is dropped.
    fn run(&self, asked: &WriteContext) -> Result<Option<Running<'_>>, StoreError> {
        let Some(once) = &asked.once else { return Ok(None) };
        let key = (asked.shop, once.key.clone());
        let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        if !running.insert(key.clone()) {
            return Err(StoreError::StillRunning);
        }
        Ok(Some(Running { store: self, key }))
    }
}

/// A request that runs in this process.
struct Running<'s> {
    store: &'s Store,
    key: (Uuid, String),
}

impl Drop for Running<'_> {
    fn drop(&mut self) {
        let mut running = self.store.running.lock().unwrap_or_else(PoisonError::into_inner);
        running.remove(&self.key);
    }
}
