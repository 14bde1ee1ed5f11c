//! Changes that come at the same time reach the disk together.
//!
//! A shop is changed by one at a time (SQLite's file too), and each commit waits for the disk.
//! Where others wait for their turn, a change leaves the transaction open to them and is told when
//! the last of them has committed it: nobody is answered before what was written for them is on the
//! disk. Whoever joins does so within a savepoint: a change that fails takes back what it wrote and
//! nothing of the others'. Where even that fails, or one is given up halfway, all are taken back,
//! and each is tried again.

use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
use std::sync::{Arc, PoisonError};
use std::time::Duration;

use sea_orm::{DatabaseTransaction, DbBackend, TransactionTrait};
use tokio::sync::{Mutex, MutexGuard, watch};
use uuid::Uuid;

use crate::db::error::Failure;
use crate::db::store::Store;

/// Changes that one commit holds at most.
const MOST: usize = 16;
/// How long a change waits for those after it. Who was to come next may have gone away.
const WAIT: Duration = Duration::from_millis(5);

/// Who may share a transaction: those who change one shop, in SQLite those who change any.
#[derive(Debug, Default)]
pub(crate) struct Groups(std::sync::Mutex<HashMap<Uuid, Arc<GroupCommit>>>);

impl Groups {
    /// Those who change this shop.
    pub(crate) fn of(&self, backend: DbBackend, shop: Uuid) -> Arc<GroupCommit> {
        let shop = if backend == DbBackend::Sqlite { Uuid::nil() } else { shop };
        let mut groups = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(groups.entry(shop).or_default())
    }
}

/// The transaction that is open to whoever comes next, where one is.
#[derive(Debug, Default)]
pub(crate) struct GroupCommit {
    open: Mutex<Option<OpenTransaction>>,
    waiting: AtomicUsize,
}

/// A transaction with the changes of those who wait for its commit.
#[derive(Debug)]
struct OpenTransaction {
    tx: DatabaseTransaction,
    changes: usize,
    committed: watch::Sender<bool>,
}

/// A turn to write. Dropped before its end, it takes everything back that was not committed.
#[derive(Debug)]
pub(crate) struct WriterTurn<'t> {
    together: &'t GroupCommit,
    open: MutexGuard<'t, Option<OpenTransaction>>,
    /// The transaction of the others, where this turn is a savepoint within it.
    joined: Option<OpenTransaction>,
}

/// Counts who waits, for as long as they do.
struct Waits<'t>(&'t AtomicUsize);

impl<'t> Waits<'t> {
    fn new(waiting: &'t AtomicUsize) -> Self {
        waiting.fetch_add(1, SeqCst);
        Self(waiting)
    }
}

impl Drop for Waits<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, SeqCst);
    }
}

impl GroupCommit {
    /// Waits for a turn: in the transaction that is open, else in one that begins. What is written
    /// goes to the transaction that is given back.
    pub(crate) async fn turn(
        &self,
        store: &Store,
        shop: Uuid,
    ) -> Result<(WriterTurn<'_>, DatabaseTransaction), Failure> {
        let waits = Waits::new(&self.waiting);
        let mut open = self.open.lock().await;
        drop(waits);
        let joined = open.take();
        let tx = match &joined {
            Some(begun) => begun.tx.begin().await?,
            None => store.begin(shop).await?,
        };
        Ok((WriterTurn { together: self, open, joined }, tx))
    }
}

impl WriterTurn<'_> {
    /// Ends well: leaves the transaction to who waits and waits for its end, or commits it.
    /// `is_last` commits at once.
    pub(crate) async fn end(self, tx: DatabaseTransaction, is_last: bool) -> Result<(), Failure> {
        let Self { together, mut open, joined } = self;
        let mut begun = match joined {
            Some(begun) => {
                // The savepoint's end: what it held is the transaction's.
                tx.commit().await?;
                begun
            }
            None => OpenTransaction { tx, changes: 0, committed: watch::Sender::new(false) },
        };
        begun.changes += 1;
        if is_last || begun.changes >= MOST || together.waiting.load(SeqCst) == 0 {
            return begun.commit().await;
        }
        let mut told = begun.committed.subscribe();
        *open = Some(begun);
        drop(open);
        loop {
            // Told or given up: that the one who was to come next is gone, or that it failed.
            let told = tokio::time::timeout(WAIT, told.wait_for(|committed| *committed)).await;
            match told.map(|told| told.map(|_| ())) {
                Ok(Ok(())) => return Ok(()),
                Ok(Err(_)) => return Err(Failure::Again("another change failed".to_owned())),
                Err(_) => {
                    if let Some(begun) = together.open.lock().await.take() {
                        begun.commit().await?;
                    }
                }
            }
        }
    }

    /// Ends badly: takes back what was written in this turn. The transaction of the others is left
    /// to who waits, or committed. Where it cannot be saved it is dropped, which tells them.
    pub(crate) async fn give_back(self, tx: DatabaseTransaction) {
        let Self { together, mut open, joined } = self;
        let is_undone = tx.rollback().await.is_ok();
        let Some(begun) = joined.filter(|_| is_undone) else { return };
        if together.waiting.load(SeqCst) > 0 {
            *open = Some(begun);
            return;
        }
        if let Err(failure) = begun.commit().await {
            // Whoever waits for it is told by its end, and tries again.
            tracing::debug!(?failure, "a commit for others failed");
        }
    }
}

impl OpenTransaction {
    async fn commit(self) -> Result<(), Failure> {
        self.tx.commit().await?;
        self.committed.send_replace(true);
        Ok(())
    }
}
