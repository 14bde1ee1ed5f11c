//! People: who signs in to which shop, and as what.

use capful_domain::Shop;
use capful_folder::cells::{self, Wrong};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait, SimpleExpr};
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbErr, EntityTrait, IntoActiveModel, QueryFilter,
    QueryOrder, QuerySelect, SqlErr,
};
use uuid::Uuid;

use crate::audit::audit_log::{AuditAction, Noted};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::first_shop::{ANY_NEW_SHOP, first_shop};
use crate::db::store::Store;
use crate::db::{moments, sql};
use crate::people::{devices, sessions, sign_in_tries};
use crate::request::idempotency;
use crate::request::write_context::{Answer, Answered, By, WriteContext};
use crate::rows::{People, PersonColumn, PersonModel, RowMeta, Stored};

/// The longest that a person signs in with, or is called.
const MOST_NAME: usize = 80;
/// What a password is kept as is no longer than this.
const MOST_HASH: usize = 500;
/// What a person may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Everything: sets the shop up, and says who else may sign in.
    Owner,
    /// What happens on the shelf and in the calendar.
    Helper,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 2] = [Self::Owner, Self::Helper];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Helper => "helper",
        }
    }

    /// The role of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// Somebody who signs in, or did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// What they are known by for ever.
    pub id: Uuid,
    /// The shop that they work in.
    pub shop: Uuid,
    /// What they sign in with, as it was written; capitals are as good as small letters.
    pub sign_in: String,
    /// What they are called.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// Since when.
    pub made_at: DateTime<Utc>,
    /// Until when.
    pub ended_at: Option<DateTime<Utc>>,
}

/// A person to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPerson<'p> {
    /// The shop.
    pub shop: Uuid,
    /// What they sign in with: nobody else in the database does, whatever the shop.
    pub sign_in: &'p str,
    /// What they are called.
    pub name: &'p str,
    /// What they may do.
    pub role: Role,
    /// What their password is kept as.
    pub password_hash: &'p str,
}

/// What is held against a password that somebody signs in with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SigningIn {
    /// Who it would be.
    pub person: Person,
    /// What their password is kept as.
    pub password_hash: String,
}

/// What became of a person who was changed or ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonChanged {
    /// As they are now.
    pub person: Person,
    /// Tokens that they had made and that are good for nothing now: who may make none any more
    /// leaves none.
    pub tokens_revoked: usize,
}

/// What a shop is opened with.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstRun<'f> {
    /// The shop, to be made where there is none.
    pub shop: Option<&'f Shop>,
    /// What its owner signs in with.
    pub sign_in: &'f str,
    /// What they are called.
    pub name: &'f str,
    /// What their password is kept as.
    pub password_hash: &'f str,
}

pub(crate) fn person(row: PersonModel) -> Result<Person, StoreError> {
    let unknown = || StoreError::Database(format!("no role is called {:?}", row.role));
    Ok(Person {
        role: Role::from_word(&row.role).ok_or_else(unknown)?,
        id: row.id,
        shop: row.shop_id,
        sign_in: row.sign_in,
        name: row.name,
        made_at: row.made_at,
        ended_at: row.ended_at,
    })
}

/// What is sought where somebody signs in.
pub(crate) fn known_as(sign_in: &str) -> String {
    sign_in.trim().to_lowercase()
}

/// What stands in its place once somebody has ended: nobody can sign in with it, as what is written
/// to sign in with begins with no blank.
fn ended_known_as(person: Uuid) -> String {
    format!(" {person}")
}

/// A text of one line, not too long, without the blanks around it.
fn line(field: &str, text: &str, most: usize) -> Result<String, StoreError> {
    let refused = |right: &str| StoreError::Refused(format!("{field}: {right}"));
    if text.chars().count() > most {
        return Err(refused(&format!("a text of at most {most} characters")));
    }
    match cells::text(text.trim()) {
        Ok(text) => Ok(text),
        Err(Wrong::Expected(right)) => Err(refused(&right)),
        Err(_) => Err(refused("a text of one line")),
    }
}

fn not_found(person: Uuid) -> StoreError {
    StoreError::NotFound { what: "person", id: person.to_string() }
}

/// That a person has not ended.
fn is_there() -> SimpleExpr {
    Expr::col("ended_at").is_null()
}

fn is(shop: Uuid, person: Uuid) -> SimpleExpr {
    sql::of_shop(shop).and(Expr::col("id").eq(person))
}

impl Store {
    /// Makes a person.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] where somebody signs in with that already, [`StoreError::Refused`]
    /// where a text is none of one line or the shop is not there, [`StoreError::Database`].
    pub async fn add_person(
        &self,
        new: &NewPerson<'_>,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<Person, StoreError> {
        let asked = WriteContext::plainly(new.shop, now).by(by);
        let nothing = Answer { status: 200, body: String::new() };
        let made = self.add_person_once(new, &asked, nothing).await?;
        made.now().ok_or(StoreError::StillRunning)
    }

    /// Makes a person, once for the same request.
    ///
    /// # Errors
    /// As [`Store::add_person`], and [`StoreError::SameKeyOtherBody`].
    pub async fn add_person_once(
        &self,
        new: &NewPerson<'_>,
        asked: &WriteContext,
        answer: Answer,
    ) -> Result<Answered<Person>, StoreError> {
        let row = self.row_of(new, asked.now)?;
        let tx = self.begin(new.shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        self.insert_person(&tx, row.clone(), asked.by).await?;
        self.keep_answer(&tx, asked, &answer).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Answered::Fresh(person(row)?, answer))
    }

    fn row_of(&self, new: &NewPerson<'_>, now: DateTime<Utc>) -> Result<PersonModel, StoreError> {
        let sign_in = line("sign_in", new.sign_in, MOST_NAME)?;
        Ok(PersonModel {
            shop_id: new.shop,
            id: self.new_uuid(now),
            known_as: known_as(&sign_in),
            name: line("name", new.name, MOST_NAME)?,
            role: new.role.word().to_owned(),
            password_hash: line("password_hash", new.password_hash, MOST_HASH)?,
            made_at: moments::kept(now),
            ended_at: None,
            sign_in,
        })
    }

    /// Writes a new person down, and by whom they were added.
    async fn insert_person(
        &self,
        tx: &DatabaseTransaction,
        row: PersonModel,
        by: By,
    ) -> Result<(), StoreError> {
        let taken = |error: DbErr| match error.sql_err() {
            Some(SqlErr::UniqueConstraintViolation(_)) => {
                StoreError::Conflict { what: "person", id: row.sign_in.clone() }
            }
            _ => failed(error),
        };
        let insert = People::insert(row.clone().into_active_model());
        insert.exec_without_returning(tx).await.map_err(taken)?;
        let (shop, now) = (row.shop_id, row.made_at);
        let (what, of) = (AuditAction::PersonAdded, Some(row.id));
        self.note(tx, Noted { shop, now, by, what, of }).await
    }

    /// Opens the shop of a database in which nobody signs in yet: makes it, where there is none,
    /// and its owner, both or neither. Gives nothing where somebody was first: of any number that
    /// ask at the same time, whichever service they ask, one opens the shop.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where a text is none of one line, or there is no shop and none is to
    /// be made; [`StoreError::Database`].
    pub async fn open_shop(
        &self,
        first: &FirstRun<'_>,
        now: DateTime<Utc>,
    ) -> Result<Option<Person>, StoreError> {
        // Whoever opens a shop, of whatever id, waits for who did before.
        let tx = self.begin(ANY_NEW_SHOP).await.map_err(failed)?;
        if People::find().filter(is_there()).limit(1).one(&tx).await.map_err(failed)?.is_some() {
            return Ok(None);
        }
        let shop = match first_shop(&tx).await.map_err(failed)? {
            Some(shop) => shop,
            None => self.insert_shop(&tx, first.shop, now).await?,
        };
        let FirstRun { sign_in, name, password_hash, .. } = *first;
        let new = NewPerson { shop, sign_in, name, role: Role::Owner, password_hash };
        let row = self.row_of(&new, now)?;
        self.insert_person(&tx, row.clone(), By::Nobody).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Some(person(row)?))
    }

    async fn insert_shop(
        &self,
        tx: &DatabaseTransaction,
        shop: Option<&Shop>,
        now: DateTime<Utc>,
    ) -> Result<Uuid, StoreError> {
        let none = || StoreError::Refused("shop: the name on the door".to_owned());
        let (new, id) = (shop.ok_or_else(none)?, self.new_uuid(now));
        let row = new.to_row(RowMeta::new(id, self.new_uuid(now)));
        let insert = <Shop as Stored>::Table::insert(row.into_active_model());
        insert.exec_without_returning(tx).await.map_err(failed)?;
        let (by, what) = (By::Nobody, AuditAction::Shop);
        self.note(tx, Noted { shop: id, now, by, what, of: None }).await?;
        Ok(id)
    }

    /// Whether anybody can sign in, whatever the shop.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn has_people(&self) -> Result<bool, StoreError> {
        let any = People::find().filter(is_there()).limit(1);
        Ok(any.one(&self.readers).await.map_err(failed)?.is_some())
    }

    /// Everybody of a shop, in the order they were made; those who have ended come last.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn people(&self, shop: Uuid) -> Result<Vec<Person>, StoreError> {
        let own = People::find().filter(sql::of_shop(shop)).order_by_asc(Expr::col("id"));
        let rows = own.all(&self.readers).await.map_err(failed)?;
        let mut people = rows.into_iter().map(person).collect::<Result<Vec<_>, _>>()?;
        people.sort_by_key(|person| person.ended_at.is_some());
        Ok(people)
    }

    /// Gives a person another password: whoever is signed in as them is not any more, but for the
    /// session `but`, and nobody waits for wrong ones that were tried.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where they have ended,
    /// [`StoreError::SameKeyOtherBody`], [`StoreError::Database`].
    pub async fn set_password(
        &self,
        person: Uuid,
        password_hash: &str,
        but: Option<Uuid>,
        asked: &WriteContext,
        answer: Answer,
    ) -> Result<Answered<()>, StoreError> {
        let (shop, now, by) = (asked.shop, asked.now, asked.by);
        let hash = line("password_hash", password_hash, MOST_HASH)?;
        let tx = self.begin(shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        let whose = who_is_here(&tx, shop, person).await?;
        let set = People::update_many().col_expr(PersonColumn::PasswordHash, Expr::value(hash));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        sign_in_tries::unlock(&tx, &whose.sign_in, person).await?;
        let mut others = sql::of_shop(shop).and(Expr::col("person").eq(person));
        if let Some(but) = but {
            others = others.and(Expr::col("id").ne(but));
        }
        sessions::end_these(&tx, others, now).await?;
        let (what, of) = (AuditAction::PasswordSet, Some(person));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        self.keep_answer(&tx, asked, &answer).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Answered::Fresh((), answer))
    }

    /// What a person is called and may do from now on. Whoever was an owner and is a helper now
    /// leaves no token that they made.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where the name is no text of one line,
    /// they have ended, or the shop would have no owner any more,
    /// [`StoreError::SameKeyOtherBody`], [`StoreError::Database`].
    pub async fn edit_person(
        &self,
        person: Uuid,
        name: &str,
        role: Role,
        asked: &WriteContext,
        answer: impl Fn(&PersonChanged) -> Answer + Send + Sync,
    ) -> Result<Answered<PersonChanged>, StoreError> {
        let (shop, now, by) = (asked.shop, asked.now, asked.by);
        let name = line("name", name, MOST_NAME)?;
        let tx = self.begin(shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        let owners = owners_of(&tx, shop).await?;
        let before = who_is_here(&tx, shop, person).await?;
        if role != Role::Owner {
            must_leave_an_owner(&owners, &before, "role: owner")?;
        }
        let set = People::update_many()
            .col_expr(PersonColumn::Name, Expr::value(name.clone()))
            .col_expr(PersonColumn::Role, Expr::value(role.word()));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        let (what, of) = (AuditAction::PersonChanged, Some(person));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        let tokens_revoked = match role {
            Role::Owner => 0,
            Role::Helper => self.revoke_tokens_of(&tx, person, asked).await?,
        };
        let changed = PersonChanged { person: Person { name, role, ..before }, tokens_revoked };
        self.done(tx, changed, asked, answer).await
    }

    /// Ends a person: whoever is signed in as them is not any more, the tokens that they made are
    /// good for nothing, and what they signed in with is free for somebody else. What they did
    /// stays. One who has ended before stays so since then.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where the shop would have no owner any
    /// more, [`StoreError::SameKeyOtherBody`], [`StoreError::Database`].
    pub async fn end_person(
        &self,
        person: Uuid,
        asked: &WriteContext,
        answer: impl Fn(&PersonChanged) -> Answer + Send + Sync,
    ) -> Result<Answered<PersonChanged>, StoreError> {
        let (shop, now, by) = (asked.shop, asked.now, asked.by);
        let tx = self.begin(shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        let owners = owners_of(&tx, shop).await?;
        let before = find(&tx, shop, person).await?;
        if before.ended_at.is_some() {
            let changed = PersonChanged { person: before, tokens_revoked: 0 };
            return self.done(tx, changed, asked, answer).await;
        }
        must_leave_an_owner(&owners, &before, "person: not the last owner")?;
        let ended_at = Some(moments::kept(now));
        let set = People::update_many()
            .col_expr(PersonColumn::EndedAt, Expr::value(ended_at))
            .col_expr(PersonColumn::KnownAs, Expr::value(ended_known_as(person)));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        sessions::end(&tx, shop, person, now).await?;
        devices::forget_all(&tx, shop, person).await?;
        let (what, of) = (AuditAction::PersonEnded, Some(person));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        let tokens_revoked = self.revoke_tokens_of(&tx, person, asked).await?;
        let changed = PersonChanged { person: Person { ended_at, ..before }, tokens_revoked };
        self.done(tx, changed, asked, answer).await
    }

    /// Keeps the answer to what was done to a person, and commits it.
    async fn done(
        &self,
        tx: DatabaseTransaction,
        changed: PersonChanged,
        asked: &WriteContext,
        answer: impl Fn(&PersonChanged) -> Answer,
    ) -> Result<Answered<PersonChanged>, StoreError> {
        let answer = answer(&changed);
        self.keep_answer(&tx, asked, &answer).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Answered::Fresh(changed, answer))
    }

    /// Who would sign in with this, and what their password is held against; nothing where nobody
    /// does, or not any more.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn signing_in(&self, sign_in: &str) -> Result<Option<SigningIn>, StoreError> {
        // No text of PostgreSQL has this character, not even one that is only looked for.
        if sign_in.contains('\0') {
            return Ok(None);
        }
        let own = People::find().filter(Expr::col("known_as").eq(known_as(sign_in)));
        let row = own.filter(is_there()).one(&self.readers).await.map_err(failed)?;
        let Some(row) = row else { return Ok(None) };
        Ok(Some(SigningIn { password_hash: row.password_hash.clone(), person: person(row)? }))
    }
}

/// A person of a shop, whether they have ended or not.
pub(crate) async fn find(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    id: Uuid,
) -> Result<Person, StoreError> {
    let row = People::find().filter(is(shop, id)).one(connection).await.map_err(failed)?;
    person(row.ok_or_else(|| not_found(id))?)
}

/// What is said where only somebody will do who has not ended.
pub(crate) fn has_ended(person: &Person) -> StoreError {
    let text = format!("person: one who has not ended; {} is added anew", person.name);
    StoreError::Refused(text)
}

/// The same, who has not ended.
async fn who_is_here(tx: &DatabaseTransaction, shop: Uuid, id: Uuid) -> Result<Person, StoreError> {
    let person = find(tx, shop, id).await?;
    if person.ended_at.is_some() {
        return Err(has_ended(&person));
    }
    Ok(person)
}

/// The owners of a shop.
async fn owners_of(tx: &DatabaseTransaction, shop: Uuid) -> Result<Vec<Uuid>, StoreError> {
    let own = People::find()
        .filter(sql::of_shop(shop))
        .filter(Expr::col("role").eq(Role::Owner.word()))
        .filter(is_there())
        .order_by_asc(Expr::col("id"));
    let rows = own.all(tx).await.map_err(failed)?;
    Ok(rows.into_iter().map(|row| row.id).collect())
}

/// Holds that somebody is left who may do everything.
fn must_leave_an_owner(owners: &[Uuid], person: &Person, right: &str) -> Result<(), StoreError> {
    if owners.iter().any(|owner| *owner != person.id) || !owners.contains(&person.id) {
        return Ok(());
    }
    let text = format!(
        "{right}; {} is the last one, and a shop has an owner: make somebody else one first",
        person.name
    );
    Err(StoreError::Refused(text))
}
