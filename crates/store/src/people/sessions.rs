//! Sessions: who is signed in. Kept as hashes, as tokens are; a browser holds the text.

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, SimpleExpr};
use sea_orm::{
    ConnectionTrait, EntityTrait, IntoActiveModel, JoinType, QueryFilter, QueryOrder, QuerySelect,
};
use uuid::Uuid;

use crate::audit::audit_log::{AuditAction, Noted};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::people::accounts::{self, Person};
use crate::people::tokens::token_hash;
use crate::request::idempotency;
use crate::request::setup_version::{self, SetupVersion, Stamped};
use crate::request::write_context::{Answer, Answered, WriteContext};
use crate::rows::{People, PersonModel, SessionColumn, SessionModel, Sessions};

/// A session to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewSession<'s> {
    /// The shop.
    pub shop: Uuid,
    /// Who signed in.
    pub person: Uuid,
    /// What the browser holds: long, and drawn at random.
    pub text: &'s str,
    /// When it ends by itself.
    pub expires_at: DateTime<Utc>,
}

/// Somebody who is signed in, or was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// What it is ended by.
    pub id: Uuid,
    /// The shop.
    pub shop: Uuid,
    /// Who, as they are now.
    pub person: Person,
    /// Since when.
    pub made_at: DateTime<Utc>,
    /// When it ends by itself.
    pub expires_at: DateTime<Utc>,
    /// When it was ended.
    pub ended_at: Option<DateTime<Utc>>,
    /// The browser that holds it, in a few words; empty where it said nothing.
    pub device: String,
    /// The address that it was last seen at; empty where that is not known.
    pub address: String,
    /// When it was last seen, as far as that was written down.
    pub seen_at: Option<DateTime<Utc>>,
    /// When its person last gave the password.
    pub confirmed_at: Option<DateTime<Utc>>,
}

/// Which sessions are ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignOut {
    /// One of a person's.
    One {
        /// Whose.
        person: Uuid,
        /// Which.
        session: Uuid,
    },
    /// All of a person's.
    Person(Uuid),
    /// Everybody's of the shop.
    Everybody,
}

impl Session {
    /// Whether it is good at a moment.
    #[must_use]
    pub fn is_good(&self, now: DateTime<Utc>) -> bool {
        self.ended_at.is_none() && self.person.ended_at.is_none() && now < self.expires_at
    }
}

fn session(row: SessionModel, person: Person) -> Session {
    Session {
        id: row.id,
        shop: row.shop_id,
        person,
        made_at: row.made_at,
        expires_at: row.expires_at,
        ended_at: row.ended_at,
        device: row.device,
        address: row.address,
        seen_at: row.seen_at,
        confirmed_at: row.confirmed_at,
    }
}

impl Store {
    /// Keeps the hash of a session of somebody who gave the password now.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has no such person, [`StoreError::Refused`] where
    /// they have ended, [`StoreError::Database`].
    pub async fn add_session(
        &self,
        new: &NewSession<'_>,
        now: DateTime<Utc>,
    ) -> Result<Session, StoreError> {
        self.add_session_from(new, "", "", now).await
    }

    /// The same, in a browser of these words and from this address.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has no such person, [`StoreError::Refused`] where
    /// they have ended, [`StoreError::Database`].
    pub async fn add_session_from(
        &self,
        new: &NewSession<'_>,
        device: &str,
        address: &str,
        now: DateTime<Utc>,
    ) -> Result<Session, StoreError> {
        let person = accounts::find(&self.readers, new.shop, new.person).await?;
        if person.ended_at.is_some() {
            return Err(accounts::has_ended(&person));
        }
        let row = SessionModel {
            shop_id: new.shop,
            id: self.new_uuid(now),
            person: new.person,
            hash: token_hash(new.text),
            made_at: moments::kept(now),
            expires_at: moments::kept(new.expires_at),
            ended_at: None,
            device: device.to_owned(),
            address: address.to_owned(),
            seen_at: Some(moments::kept(now)),
            confirmed_at: Some(moments::kept(now)),
        };
        let session = session(row.clone(), person);
        let insert = Sessions::insert(row.into_active_model());
        insert.exec_without_returning(&self.writer).await.map_err(failed)?;
        Ok(session)
    }

    /// The session of a text, whether it is still good or not, and how its shop is set up.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn session(&self, text: &str) -> Result<Option<(Session, SetupVersion)>, StoreError> {
        let of = |table: &'static str, column: &'static str| Expr::col((table, column));
        let mut own =
            Sessions::find().select_also(People).filter(of("session", "hash").eq(token_hash(text)));
        let query = QuerySelect::query(&mut own);
        let is_theirs = of("person", "shop_id")
            .equals(("session", "shop_id"))
            .and(of("person", "id").equals(("session", "person")));
        query.join(JoinType::InnerJoin, "person", is_theirs);
        setup_version::ask(query, "session");
        let found = own.into_model::<SessionModel, Stamped<PersonModel>>().one(&self.readers);
        let Some((row, Some(whose))) = found.await.map_err(failed)? else { return Ok(None) };
        Ok(Some((session(row, accounts::person(whose.row)?), whose.stamp)))
    }

    /// The sessions of a person that are good at a moment, the one that began last first.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has no such person, [`StoreError::Database`].
    pub async fn sessions_of(
        &self,
        shop: Uuid,
        person: Uuid,
        now: DateTime<Utc>,
    ) -> Result<Vec<Session>, StoreError> {
        let whose = accounts::find(&self.readers, shop, person).await?;
        let own = Sessions::find()
            .filter(sql::of_shop(shop))
            .filter(Expr::col("person").eq(person))
            .filter(is_open())
            .order_by_desc(Expr::col("id"));
        let rows = own.all(&self.readers).await.map_err(failed)?;
        let sessions = rows.into_iter().map(|row| session(row, whose.clone()));
        Ok(sessions.filter(|session| session.is_good(now)).collect())
    }

    /// Notes that a session was seen, and at which address.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn see_session(
        &self,
        shop: Uuid,
        id: Uuid,
        address: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let see = Sessions::update_many()
            .col_expr(SessionColumn::SeenAt, Expr::value(moments::kept(now)))
            .col_expr(SessionColumn::Address, Expr::value(address))
            .filter(sql::of_shop(shop))
            .filter(Expr::col("id").eq(id));
        see.exec(&self.writer).await.map_err(failed)?;
        Ok(())
    }

    /// Notes that the person of a session gave the password again.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn confirm_session(
        &self,
        shop: Uuid,
        id: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let confirm = Sessions::update_many()
            .col_expr(SessionColumn::ConfirmedAt, Expr::value(moments::kept(now)))
            .filter(sql::of_shop(shop))
            .filter(Expr::col("id").eq(id));
        confirm.exec(&self.writer).await.map_err(failed)?;
        Ok(())
    }

    /// Signs somebody out, or everybody, but for the session `but`, and tells of it.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such person or they have no such session,
    /// [`StoreError::Database`].
    pub async fn sign_out(
        &self,
        which: SignOut,
        but: Option<Uuid>,
        asked: &WriteContext,
        answer: Answer,
    ) -> Result<Answered<()>, StoreError> {
        let (shop, now, by) = (asked.shop, asked.now, asked.by);
        let tx = self.begin(shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        let of = match which {
            SignOut::One { person, .. } | SignOut::Person(person) => {
                Some(accounts::find(&tx, shop, person).await?.id)
            }
            SignOut::Everybody => None,
        };
        let mut own = sql::of_shop(shop);
        if let Some(person) = of {
            own = own.and(Expr::col("person").eq(person));
        }
        if let SignOut::One { session, .. } = which {
            own = own.and(Expr::col("id").eq(session));
            let there = Sessions::find().filter(own.clone()).one(&tx).await.map_err(failed)?;
            let missing = || StoreError::NotFound { what: "session", id: session.to_string() };
            there.ok_or_else(missing)?;
        }
        if let Some(but) = but {
            own = own.and(Expr::col("id").ne(but));
        }
        end_these(&tx, own, now).await?;
        let what = AuditAction::SignedOut;
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        self.keep_answer(&tx, asked, &answer).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Answered::Fresh((), answer))
    }

    /// Ends a session. One that was ended before stays ended since then.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has none of that id, [`StoreError::Database`].
    pub async fn end_session(
        &self,
        shop: Uuid,
        id: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let end = Sessions::update_many()
            .col_expr(SessionColumn::EndedAt, Expr::col("ended_at").if_null(moments::kept(now)))
            .filter(sql::of_shop(shop))
            .filter(Expr::col("id").eq(id));
        match end.exec(&self.writer).await.map_err(failed)?.rows_affected {
            0 => Err(StoreError::NotFound { what: "session", id: id.to_string() }),
            _ => Ok(()),
        }
    }

    /// Ends every session of a person.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn end_sessions(
        &self,
        shop: Uuid,
        person: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        end(&self.writer, shop, person, now).await
    }

    /// Forgets the sessions that expired or were ended before a moment; gives how many.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_sessions(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let is_old = Expr::col("expires_at").lt(before).or(Expr::col("ended_at").lt(before));
        let old = Sessions::delete_many().filter(is_old);
        Ok(old.exec(&self.writer).await.map_err(failed)?.rows_affected)
    }
}

/// That a session was not ended.
fn is_open() -> SimpleExpr {
    Expr::col("ended_at").is_null()
}

/// Ends every session of a person.
pub(crate) async fn end(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    person: Uuid,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    end_these(connection, sql::of_shop(shop).and(Expr::col("person").eq(person)), now).await
}

/// Ends every session for which this holds.
pub(crate) async fn end_these(
    connection: &impl ConnectionTrait,
    which: SimpleExpr,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let end = Sessions::update_many()
        .col_expr(SessionColumn::EndedAt, Expr::value(moments::kept(now)))
        .filter(which)
        .filter(is_open());
    end.exec(connection).await.map_err(failed)?;
    Ok(())
}
