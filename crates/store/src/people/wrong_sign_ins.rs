//! Wrong sign-ins among who did what: one entry for each name and address in a quarter of an hour,
//! with how often, and no more than a few in that time, so that nobody fills the list.

use chrono::{DateTime, DurationRound, TimeDelta, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{EntityTrait, IntoActiveModel, QueryFilter, QueryOrder};
use uuid::Uuid;

use crate::audit::audit_log::{self, AuditAction, WrongSignIns};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::people::accounts::Person;
use crate::people::sign_in_tries;
use crate::request::write_context::By;
use crate::rows::{DeedColumn, DeedModel, Deeds};

/// The time that wrong sign-ins are told together of.
const TOGETHER: TimeDelta = TimeDelta::minutes(15);
/// Entries of that time; what is wrong beyond these is counted in one more, of no address.
const MOST: usize = 20;

impl Store {
    /// Tells of a wrong sign-in: to the shop of the person whose name it was; where it was
    /// nobody's, to the shop of the database, if there is but one. What was typed is not kept. It
    /// takes the same whether anybody has the name or not.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn note_wrong_sign_in(
        &self,
        person: Option<&Person>,
        address: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let now = moments::kept(now);
        let shops = self.shops().await?;
        let shop = match (person, &shops[..]) {
            (Some(person), _) => person.shop,
            (None, [(only, _)]) => *only,
            (None, _) => Uuid::nil(),
        };
        let tx = self.begin(shop).await.map_err(failed)?;
        if shop.is_nil() {
            sign_in_tries::put(&tx, Uuid::nil(), 0, None, now).await?;
            return tx.commit().await.map_err(failed);
        }
        let about = person.map(|person| person.id.to_string()).unwrap_or_default();
        let began = now.duration_trunc(TOGETHER).unwrap_or(now);
        let before = Deeds::find()
            .filter(sql::of_shop(shop))
            .filter(Expr::col("id").gte(first_id(began)))
            // Where the clock was set back, identifiers run ahead of it.
            .filter(Expr::col("at").gte(began))
            .filter(Expr::col("what").eq(AuditAction::SignInWrong.word()))
            .order_by_asc(Expr::col("id"));
        let before = before.all(&tx).await.map_err(failed)?;
        let same = |row: &&DeedModel, address: &str| {
            let wrong = audit_log::read_written(row).ok();
            row.about == about
                && wrong.is_some_and(|told| told.get("address") == Some(&address.into()))
        };
        let mut row = before.iter().find(|row| same(row, address));
        let mut address = address;
        if row.is_none() && before.len() >= MOST {
            (address, row) = ("", before.iter().find(|row| same(row, "")));
        }
        match row {
            Some(row) => {
                let mut wrong: WrongSignIns = audit_log::read_written_as(row)?;
                wrong.count += 1;
                wrong.last_at = now;
                let more = Deeds::update_many()
                    .col_expr(DeedColumn::Written, Expr::value(written(&wrong)))
                    .filter(sql::of_shop(shop))
                    .filter(Expr::col("id").eq(row.id));
                more.exec(&tx).await.map_err(failed)?;
            }
            None => {
                let wrong = WrongSignIns { address: address.to_owned(), count: 1, last_at: now };
                let (id, what) = (self.new_uuid(now), AuditAction::SignInWrong);
                let row = audit_log::row(shop, id, now, By::Nobody, what, about);
                let row = DeedModel { written: written(&wrong), ..row };
                let insert = Deeds::insert(row.into_active_model());
                insert.exec_without_returning(&tx).await.map_err(failed)?;
            }
        }
        tx.commit().await.map_err(failed)
    }
}

fn written(wrong: &WrongSignIns) -> String {
    serde_json::to_string(wrong).unwrap_or_default()
}

/// The least identifier of a moment: those that are made later are greater.
fn first_id(at: DateTime<Utc>) -> Uuid {
    let millis = u128::try_from(at.timestamp_millis()).unwrap_or_default();
    Uuid::from_u128(millis << 80)
}
