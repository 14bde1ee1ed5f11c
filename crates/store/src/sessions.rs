//! Sessions: who is signed in. Kept as hashes, as tokens are; a browser holds the text.

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{ConnectionTrait, EntityTrait, IntoActiveModel, JoinType, QueryFilter, QuerySelect};
use uuid::Uuid;

use crate::error::StoreError;
use crate::moments;
use crate::people::{self, Person};
use crate::rows::{People, PersonModel, SessionColumn, SessionModel, Sessions};
use crate::sql;
use crate::stamp::{self, SetUpStamp, Stamped};
use crate::store::{Store, failed};
use crate::tokens::token_hash;

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
    }
}

impl Store {
    /// Keeps a session's hash.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has no such person, [`StoreError::Refused`] where
    /// they have ended, [`StoreError::Database`].
    pub async fn add_session(
        &self,
        new: &NewSession<'_>,
        now: DateTime<Utc>,
    ) -> Result<Session, StoreError> {
        let person = people::find(&self.readers, new.shop, new.person).await?;
        if person.ended_at.is_some() {
            return Err(people::has_ended(&person));
        }
        let row = SessionModel {
            shop_id: new.shop,
            id: self.new_uuid(now),
            person: new.person,
            hash: token_hash(new.text),
            made_at: moments::kept(now),
            expires_at: moments::kept(new.expires_at),
            ended_at: None,
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
    pub async fn session(&self, text: &str) -> Result<Option<(Session, SetUpStamp)>, StoreError> {
        let of = |table: &'static str, column: &'static str| Expr::col((table, column));
        let mut own =
            Sessions::find().select_also(People).filter(of("session", "hash").eq(token_hash(text)));
        let query = QuerySelect::query(&mut own);
        let is_theirs = of("person", "shop_id")
            .equals(("session", "shop_id"))
            .and(of("person", "id").equals(("session", "person")));
        query.join(JoinType::InnerJoin, "person", is_theirs);
        stamp::ask(query, "session");
        let found = own.into_model::<SessionModel, Stamped<PersonModel>>().one(&self.readers);
        let Some((row, Some(whose))) = found.await.map_err(failed)? else { return Ok(None) };
        Ok(Some((session(row, people::person(whose.row)?), whose.stamp)))
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

/// Ends every session of a person.
pub(crate) async fn end(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    person: Uuid,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let end = Sessions::update_many()
        .col_expr(SessionColumn::EndedAt, Expr::value(moments::kept(now)))
        .filter(sql::of_shop(shop))
        .filter(Expr::col("person").eq(person))
        .filter(Expr::col("ended_at").is_null());
    end.exec(connection).await.map_err(failed)?;
    Ok(())
}
