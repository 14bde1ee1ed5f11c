//! People: who signs in to which shop, and how often somebody may try.

use capful_folder::cells::{self, Wrong};
use chrono::{DateTime, TimeDelta, Utc};
use sea_orm::sea_query::{CaseStatement, Expr, ExprTrait, SimpleExpr};
use sea_orm::{
    ConnectionTrait, DatabaseTransaction, DbErr, EntityTrait, IntoActiveModel, QueryFilter,
    QueryOrder, QuerySelect, SqlErr, UpdateMany,
};
use uuid::Uuid;

use crate::asked::By;
use crate::deeds::{DeedWhat, Noted};
use crate::error::StoreError;
use crate::moments;
use crate::rows::{People, PersonColumn, PersonModel};
use crate::sessions;
use crate::sql;
use crate::store::{Store, failed};

/// The longest that a person signs in with, or is called.
const MOST_NAME: usize = 80;
/// What a password is kept as is no longer than this.
const MOST_HASH: usize = 500;
/// Wrong passwords after which nobody waits.
const FREE: i64 = 4;
/// How long somebody waits after the first wrong password that is not free.
const FIRST_WAIT: TimeDelta = TimeDelta::seconds(30);
/// How long anybody waits.
const LONGEST_WAIT: TimeDelta = TimeDelta::minutes(15);

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
    /// How many wrong passwords there were since the last right one.
    pub failures: i32,
    /// Until when no password is looked at.
    pub may_try_at: Option<DateTime<Utc>>,
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
fn known_as(sign_in: &str) -> String {
    sign_in.trim().to_lowercase()
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

/// Until when nobody may try, once there was one more wrong password than are counted: by the
/// count that the database has, so that none of two at the same time is lost.
fn wait(now: DateTime<Utc>) -> SimpleExpr {
    let mut waits = CaseStatement::new();
    let mut wait = FIRST_WAIT;
    for before in FREE.. {
        let until = Expr::value(now + wait.min(LONGEST_WAIT));
        if wait >= LONGEST_WAIT {
            let rest = Expr::col("failures").gte(before);
            return waits.case(rest, until).finally(Expr::col("may_try_at")).into();
        }
        waits = waits.case(Expr::col("failures").eq(before), until);
        wait = wait * 2;
    }
    Expr::col("may_try_at")
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
        let sign_in = line("sign_in", new.sign_in, MOST_NAME)?;
        let row = PersonModel {
            shop_id: new.shop,
            id: self.new_uuid(now),
            known_as: known_as(&sign_in),
            name: line("name", new.name, MOST_NAME)?,
            role: new.role.word().to_owned(),
            password_hash: line("password_hash", new.password_hash, MOST_HASH)?,
            failures: 0,
            may_try_at: None,
            made_at: moments::kept(now),
            ended_at: None,
            sign_in,
        };
        let insert = People::insert(row.clone().into_active_model());
        let taken = |error: DbErr| match error.sql_err() {
            Some(SqlErr::UniqueConstraintViolation(_)) => {
                StoreError::Conflict { what: "person", id: row.sign_in.clone() }
            }
            _ => failed(error),
        };
        let tx = self.begin(new.shop).await.map_err(failed)?;
        insert.exec_without_returning(&tx).await.map_err(taken)?;
        let (shop, what, of) = (new.shop, DeedWhat::PersonAdded, row.id);
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)?;
        person(row)
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

    /// Gives a person another password: whoever is signed in as them is not any more, and nobody
    /// waits for wrong ones that were tried.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where they have ended,
    /// [`StoreError::Database`].
    pub async fn set_password(
        &self,
        shop: Uuid,
        person: Uuid,
        password_hash: &str,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<(), StoreError> {
        let hash = line("password_hash", password_hash, MOST_HASH)?;
        let tx = self.begin(shop).await.map_err(failed)?;
        who_is_here(&tx, shop, person).await?;
        let set = cleared().col_expr(PersonColumn::PasswordHash, Expr::value(hash));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        sessions::end(&tx, shop, person, now).await?;
        let (what, of) = (DeedWhat::PasswordSet, person);
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)
    }

    /// What a person is called and may do from now on.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where the name is no text of one line,
    /// they have ended, or the shop would have no owner any more, [`StoreError::Database`].
    pub async fn edit_person(
        &self,
        shop: Uuid,
        person: Uuid,
        name: &str,
        role: Role,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<Person, StoreError> {
        let name = line("name", name, MOST_NAME)?;
        let tx = self.begin(shop).await.map_err(failed)?;
        let owners = owners_of(&tx, shop).await?;
        let before = who_is_here(&tx, shop, person).await?;
        if role != Role::Owner {
            must_leave_an_owner(&owners, &before, "role: owner")?;
        }
        let set = People::update_many()
            .col_expr(PersonColumn::Name, Expr::value(name.clone()))
            .col_expr(PersonColumn::Role, Expr::value(role.word()));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        let (what, of) = (DeedWhat::PersonChanged, person);
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Person { name, role, ..before })
    }

    /// Ends a person: whoever is signed in as them is not any more, and what they signed in with is
    /// free for somebody else. What they did stays. One who has ended before stays so since then.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Refused`] where the shop would have no owner any
    /// more, [`StoreError::Database`].
    pub async fn end_person(
        &self,
        shop: Uuid,
        person: Uuid,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<(), StoreError> {
        let tx = self.begin(shop).await.map_err(failed)?;
        let owners = owners_of(&tx, shop).await?;
        let before = find(&tx, shop, person).await?;
        if before.ended_at.is_some() {
            return Ok(());
        }
        must_leave_an_owner(&owners, &before, "person: not the last owner")?;
        let set = People::update_many()
            .col_expr(PersonColumn::EndedAt, Expr::value(moments::kept(now)))
            .col_expr(PersonColumn::KnownAs, Expr::value(person.to_string()));
        set.filter(is(shop, person)).exec(&tx).await.map_err(failed)?;
        sessions::end(&tx, shop, person, now).await?;
        let (what, of) = (DeedWhat::PersonEnded, person);
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)
    }

    /// Who would sign in with this, and what their password is held against; nothing where nobody
    /// does, or not any more.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn signing_in(&self, sign_in: &str) -> Result<Option<SigningIn>, StoreError> {
        let own = People::find().filter(Expr::col("known_as").eq(known_as(sign_in)));
        let row = own.filter(is_there()).one(&self.readers).await.map_err(failed)?;
        let Some(row) = row else { return Ok(None) };
        Ok(Some(SigningIn {
            password_hash: row.password_hash.clone(),
            failures: i32::try_from(row.failures).unwrap_or(i32::MAX),
            may_try_at: row.may_try_at,
            person: person(row)?,
        }))
    }

    /// Counts a wrong password. From the fifth on the next one has to wait, each time twice as
    /// long, up to a quarter of an hour.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Database`].
    pub async fn note_failure(
        &self,
        shop: Uuid,
        person: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let count = People::update_many()
            .col_expr(PersonColumn::Failures, Expr::col("failures").add(1))
            .col_expr(PersonColumn::MayTryAt, wait(moments::kept(now)));
        self.write_person(shop, person, count).await
    }

    /// Forgets the wrong passwords: this one was right.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Database`].
    pub async fn note_success(&self, shop: Uuid, person: Uuid) -> Result<(), StoreError> {
        self.write_person(shop, person, cleared()).await
    }

    async fn write_person(
        &self,
        shop: Uuid,
        person: Uuid,
        update: UpdateMany<People>,
    ) -> Result<(), StoreError> {
        let own = update.filter(is(shop, person));
        match own.exec(&self.writer).await.map_err(failed)?.rows_affected {
            0 => Err(not_found(person)),
            _ => Ok(()),
        }
    }
}

/// An update that forgets wrong passwords.
fn cleared() -> UpdateMany<People> {
    People::update_many()
        .col_expr(PersonColumn::Failures, Expr::value(0_i64))
        .col_expr(PersonColumn::MayTryAt, Expr::value(None::<DateTime<Utc>>))
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
