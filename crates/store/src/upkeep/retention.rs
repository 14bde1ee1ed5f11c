//! How long is kept what a shop's books do not need: answers that could be asked for again,
//! sessions that have ended, and who did what.

use chrono::{DateTime, TimeDelta, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{EntityTrait, QueryFilter};
use uuid::Uuid;

use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::sql;
use crate::db::store::Store;
use crate::rows::Deeds;

/// How long each is kept. What is younger is never thrown away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Retention {
    /// Answers, by which the same request again changes nothing; at least a day.
    pub answers: TimeDelta,
    /// Sessions, once they have ended.
    pub sessions: TimeDelta,
    /// Wrong passwords, counted by name and by address, after the last.
    pub tries: TimeDelta,
    /// Browsers that are known, after somebody last signed in with them.
    pub devices: TimeDelta,
    /// The audit log: who did what, by which it can be undone. Nothing: for ever.
    pub audit: Option<TimeDelta>,
}

impl Default for Retention {
    fn default() -> Self {
        Self {
            answers: TimeDelta::days(2),
            sessions: TimeDelta::days(30),
            tries: TimeDelta::days(1),
            devices: TimeDelta::days(400),
            audit: None,
        }
    }
}

/// How much was thrown away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Forgotten {
    /// Answers.
    pub answers: u64,
    /// Sessions.
    pub sessions: u64,
    /// Tries at passwords.
    pub tries: u64,
    /// Browsers.
    pub devices: u64,
    /// Entries of the audit log.
    pub deeds: u64,
}

impl Store {
    /// Throws away what is older than it is kept, as things stand at `now`.
    ///
    /// # Errors
    /// [`StoreError::Database`]; what was thrown away before it failed is gone.
    pub async fn forget_old(
        &self,
        kept: &Retention,
        now: DateTime<Utc>,
    ) -> Result<Forgotten, StoreError> {
        let answers = self.forget_answers(now - kept.answers).await?;
        let sessions = self.forget_sessions(now - kept.sessions).await?;
        let tries = self.forget_tries(now - kept.tries).await?;
        let devices = self.forget_devices(now - kept.devices).await?;
        let deeds = match kept.audit {
            Some(kept) => self.forget_deeds(now - kept).await?,
            None => 0,
        };
        Ok(Forgotten { answers, sessions, tries, devices, deeds })
    }

    /// Forgets who did what before a moment; gives how many entries those were.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_deeds(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let mut forgotten = 0;
        // Shop by shop and by their ids, which rise with time, as they are sought by.
        for (shop, _) in self.shops().await? {
            let old = Deeds::delete_many()
                .filter(sql::of_shop(shop))
                .filter(Expr::col("id").lt(first_id_of(before + TimeDelta::milliseconds(1))))
                .filter(Expr::col("at").lt(before));
            forgotten += old.exec(&self.writer).await.map_err(failed)?.rows_affected;
        }
        Ok(forgotten)
    }
}

/// An identifier before all that are made from a moment on.
fn first_id_of(at: DateTime<Utc>) -> Uuid {
    let millis = u64::try_from(at.timestamp_millis()).unwrap_or_default();
    let mut bytes = [0; 16];
    bytes[..6].copy_from_slice(&millis.to_be_bytes()[2..]);
    Uuid::from_bytes(bytes)
}
