//! Tries at passwords: how many are free, and how long the next one waits after those.
//!
//! A try is taken before the password is looked at, so that any number at the same time are no more
//! looks than one after the other. Names that nobody has are counted as those are that somebody
//! has. Names and addresses are counted in a fixed number of places by their digest, so that no
//! number of either makes the table grow; nothing that somebody typed is kept.

use std::net::IpAddr;

use chrono::{DateTime, TimeDelta, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};
use sea_orm::{DatabaseTransaction, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::audit::audit_log::{AuditAction, Noted};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::people::accounts::known_as;
use crate::request::write_context::By;
use crate::rows::{SignInTries, SignInTryModel};

/// How long somebody waits after the first wrong password that is not free.
const FIRST_WAIT: TimeDelta = TimeDelta::seconds(30);
/// How long anybody waits.
const LONGEST_WAIT: TimeDelta = TimeDelta::minutes(15);
/// Wrong passwords are forgotten once there was no other for so long.
pub(crate) const REMEMBERED: TimeDelta = TimeDelta::days(1);

/// Wrong passwords of one name after which the next one waits.
const FREE_OF_NAME: i64 = 4;
/// The same from one address, behind which a whole shop may be.
const FREE_OF_ADDRESS: i64 = 20;
/// The same from a browser that the person signed in with before.
const FREE_OF_DEVICE: i64 = 9;

/// What tries are counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TryKey {
    id: Uuid,
    free: i64,
    /// Whether others try there too: then a right password takes back its own try alone.
    is_shared: bool,
}

impl TryKey {
    /// The name that somebody signs in with, whether anybody has it or not.
    #[must_use]
    pub fn name(sign_in: &str) -> Self {
        Self { id: place(1, known_as(sign_in).as_bytes()), free: FREE_OF_NAME, is_shared: false }
    }

    /// The address that somebody signs in from; of IPv6 the first 64 bits, which are one site's.
    #[must_use]
    pub fn address(address: IpAddr) -> Self {
        let id = match address.to_canonical() {
            IpAddr::V4(address) => place(2, &address.octets()),
            IpAddr::V6(address) => place(2, &address.octets()[..8]),
        };
        Self { id, free: FREE_OF_ADDRESS, is_shared: true }
    }

    /// A browser that the person signed in with before.
    #[must_use]
    pub const fn device(id: Uuid) -> Self {
        Self { id, free: FREE_OF_DEVICE, is_shared: false }
    }

    /// Somebody who is signed in and gives the password again.
    #[must_use]
    pub const fn person(id: Uuid) -> Self {
        Self { id, free: FREE_OF_NAME, is_shared: false }
    }
}

/// One of 65,536 places of a kind.
fn place(kind: u128, text: &[u8]) -> Uuid {
    let digest = Sha256::digest(text);
    let number = u128::from(digest[0]) << 8 | u128::from(digest[1]);
    Uuid::from_u128(kind << 64 | number)
}

/// Until when the next one waits, where there were so many wrong ones before this.
fn wait(key: TryKey, before: i64, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let doubled = u32::try_from(before - key.free).ok()?;
    let wait = match doubled {
        0..=4 => FIRST_WAIT * (1 << doubled),
        _ => LONGEST_WAIT,
    };
    Some(now + wait)
}

impl Store {
    /// Takes a try at a password by all of these keys, to be counted as wrong unless
    /// [`Store::forget_tries_of`] is told otherwise; gives until when none may be made, where one
    /// of the keys waits. None is counted then.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn take_try(
        &self,
        keys: &[TryKey],
        now: DateTime<Utc>,
    ) -> Result<Option<DateTime<Utc>>, StoreError> {
        let now = moments::kept(now);
        let tx = self.begin(Uuid::nil()).await.map_err(failed)?;
        let there = tries(&tx, keys).await?;
        let until = there.iter().filter_map(|row| row.may_try_at).filter(|at| *at > now).max();
        if until.is_some() {
            return Ok(until);
        }
        for key in keys {
            let row = there.iter().find(|row| row.id == key.id);
            let before = row.filter(|row| now - row.last_at < REMEMBERED);
            let before = before.map_or(0, |row| row.failures);
            put(&tx, key.id, before + 1, wait(*key, before, now), now).await?;
        }
        tx.commit().await.map_err(failed)?;
        Ok(None)
    }

    /// Forgets the wrong passwords by these keys: this one was right. Of an address, at which
    /// others try too, only the one that was taken for it.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_tries_of(&self, keys: &[TryKey]) -> Result<(), StoreError> {
        let tx = self.begin(Uuid::nil()).await.map_err(failed)?;
        let there = tries(&tx, keys).await?;
        for row in there {
            let is_shared = keys.iter().any(|key| key.id == row.id && key.is_shared);
            if is_shared && row.failures > 1 {
                put(&tx, row.id, row.failures - 1, None, row.last_at).await?;
            } else {
                forget(&tx, row.id).await?;
            }
        }
        tx.commit().await.map_err(failed)
    }

    /// Forgets every name, address and device at which nobody has tried since `before`; gives how
    /// many.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_tries(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let old = SignInTries::delete_many()
            .filter(sql::of_shop(Uuid::nil()))
            .filter(Expr::col("last_at").lt(before));
        Ok(old.exec(&self.writer).await.map_err(failed)?.rows_affected)
    }

    /// Lets a person try again at once, whatever was tried with their name before.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Database`].
    pub async fn unlock_person(
        &self,
        shop: Uuid,
        person: Uuid,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<(), StoreError> {
        let tx = self.begin(shop).await.map_err(failed)?;
        let found = crate::people::accounts::find(&tx, shop, person).await?;
        unlock(&tx, &found.sign_in, person).await?;
        let (what, of) = (AuditAction::SignInUnlocked, Some(person));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)
    }
}

/// Forgets what was tried with the name of a person, and as them.
pub(crate) async fn unlock(
    tx: &DatabaseTransaction,
    sign_in: &str,
    person: Uuid,
) -> Result<(), StoreError> {
    for key in [TryKey::name(sign_in), TryKey::person(person)] {
        forget(tx, key.id).await?;
    }
    Ok(())
}

async fn forget(tx: &DatabaseTransaction, id: Uuid) -> Result<(), StoreError> {
    let own = SignInTries::delete_many().filter(sql::of_shop(Uuid::nil()));
    own.filter(Expr::col("id").eq(id)).exec(tx).await.map_err(failed)?;
    Ok(())
}

async fn tries(
    tx: &DatabaseTransaction,
    keys: &[TryKey],
) -> Result<Vec<SignInTryModel>, StoreError> {
    let ids: Vec<Uuid> = keys.iter().map(|key| key.id).collect();
    let own = SignInTries::find().filter(sql::of_shop(Uuid::nil())).filter(sql::one_of("id", &ids));
    own.order_by_asc(Expr::col("id")).all(tx).await.map_err(failed)
}

/// Writes how often was tried, over what stood there.
pub(crate) async fn put(
    tx: &DatabaseTransaction,
    id: Uuid,
    failures: i64,
    may_try_at: Option<DateTime<Utc>>,
    last_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    let row = SignInTryModel { shop_id: Uuid::nil(), id, failures, may_try_at, last_at };
    let mut over = OnConflict::columns(["shop_id", "id"]);
    over.update_columns(["failures", "may_try_at", "last_at"]);
    let insert = SignInTries::insert(row.into_active_model()).on_conflict(over);
    insert.exec_without_returning(tx).await.map_err(failed)?;
    Ok(())
}
