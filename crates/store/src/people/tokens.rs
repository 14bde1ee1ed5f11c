//! Tokens: who may ask, and for what. Kept as hashes; the text is seen once, by who made it.

use capful_folder::cells::{self, Wrong};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{
    DatabaseTransaction, DbErr, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder, QuerySelect,
    SqlErr,
};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::audit::audit_log::{AuditAction, Noted};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::store::Store;
use crate::request::idempotency;
use crate::request::setup_version::{self, SetupVersion, Stamped};
use crate::request::write_context::{Answer, Answered, By, WriteContext};
use crate::rows::{TokenColumn, TokenModel, Tokens};

/// What a token allows, each more than the one before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// To look.
    Read,
    /// To write down what happens on the shelf and in the calendar.
    Shelf,
    /// To set up.
    Setup,
}

impl Scope {
    /// Every scope.
    pub const ALL: [Self; 3] = [Self::Read, Self::Shelf, Self::Setup];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Shelf => "shelf",
            Self::Setup => "setup",
        }
    }

    /// The scope of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|scope| scope.word() == word)
    }
}

/// A token as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// What it is revoked by.
    pub id: Uuid,
    /// The shop that it speaks for.
    pub shop: Uuid,
    /// What it allows.
    pub scope: Scope,
    /// What it is for.
    pub label: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// When it ends by itself.
    pub expires_at: Option<DateTime<Utc>>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
    /// The person who made it; nothing where the program itself did.
    pub made_by: Option<Uuid>,
}

impl Token {
    /// Whether it is good at a moment.
    #[must_use]
    pub fn is_good(&self, now: DateTime<Utc>) -> bool {
        self.revoked_at.is_none() && self.expires_at.is_none_or(|end| now < end)
    }
}

/// A token to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewToken<'t> {
    /// The shop.
    pub shop: Uuid,
    /// The token itself.
    pub text: &'t str,
    /// What it allows.
    pub scope: Scope,
    /// What it is for.
    pub label: &'t str,
    /// When it ends by itself.
    pub expires_at: Option<DateTime<Utc>>,
}

/// What a token is kept as. Tokens are long and drawn at random: one round of SHA-256 is enough.
#[must_use]
pub fn token_hash(text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn token(row: TokenModel) -> Result<Token, StoreError> {
    let scope = Scope::from_word(&row.scope);
    let unknown = || StoreError::Database(format!("no scope is called {:?}", row.scope));
    Ok(Token {
        id: row.id,
        shop: row.shop_id,
        scope: scope.ok_or_else(unknown)?,
        label: row.label,
        made_at: row.made_at,
        expires_at: row.expires_at,
        revoked_at: row.revoked_at,
        made_by: row.made_by,
    })
}

/// A token's text is a secret: it is told by what the token is for that there is one.
fn taken(error: DbErr, label: &str) -> StoreError {
    match error.sql_err() {
        Some(SqlErr::UniqueConstraintViolation(_)) => {
            StoreError::Conflict { what: "token", id: label.to_owned() }
        }
        _ => failed(error),
    }
}

impl Store {
    /// Keeps a token's hash.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where the shop is not there, or the label is no text of one line,
    /// [`StoreError::Conflict`] where there is a token of that text, [`StoreError::Database`].
    pub async fn add_token(
        &self,
        new: &NewToken<'_>,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<Token, StoreError> {
        let asked = WriteContext::plainly(new.shop, now).by(by);
        let nothing = Answer { status: 200, body: String::new() };
        let made = self.add_token_once(new, &asked, nothing).await?;
        made.now().ok_or(StoreError::StillRunning)
    }

    /// Keeps a token's hash, once for the same request. The text of the first is not given again.
    ///
    /// # Errors
    /// [`StoreError`] where the shop is not there, the label is no text of one line, or the key of
    /// the request was used for another.
    pub async fn add_token_once(
        &self,
        new: &NewToken<'_>,
        asked: &WriteContext,
        answer: Answer,
    ) -> Result<Answered<Token>, StoreError> {
        // A token may be of no label, and a label is a text as any other.
        if let (false, Err(Wrong::Expected(right))) = (new.label.is_empty(), cells::text(new.label))
        {
            return Err(StoreError::Refused(format!("label: {right}")));
        }
        let (now, by) = (asked.now, asked.by);
        let row = TokenModel {
            shop_id: new.shop,
            id: self.new_uuid(now),
            hash: token_hash(new.text),
            scope: new.scope.word().to_owned(),
            label: new.label.to_owned(),
            made_at: moments::kept(now),
            expires_at: new.expires_at.map(moments::kept),
            revoked_at: None,
            made_by: by.person(),
        };
        let insert = Tokens::insert(row.clone().into_active_model());
        let tx = self.begin(new.shop).await.map_err(failed)?;
        if let Some(before) = idempotency::answer_in(&tx, asked).await? {
            return Ok(Answered::Replayed(before));
        }
        insert.exec_without_returning(&tx).await.map_err(|error| taken(error, &row.label))?;
        let (shop, what, of) = (new.shop, AuditAction::TokenMade, Some(row.id));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        self.keep_answer(&tx, asked, &answer).await?;
        tx.commit().await.map_err(failed)?;
        Ok(Answered::Fresh(token(row)?, answer))
    }

    /// Ends every token that somebody made, in a transaction; gives how many.
    pub(crate) async fn revoke_tokens_of(
        &self,
        tx: &DatabaseTransaction,
        person: Uuid,
        asked: &WriteContext,
    ) -> Result<usize, StoreError> {
        let (shop, now, by) = (asked.shop, asked.now, asked.by);
        let own = || {
            let made = Expr::col("shop_id").eq(shop).and(Expr::col("made_by").eq(person));
            made.and(Expr::col("revoked_at").is_null())
        };
        let tokens = Tokens::find().filter(own()).order_by_asc(Expr::col("id"));
        let tokens = tokens.all(tx).await.map_err(failed)?;
        let revoke = Tokens::update_many()
            .col_expr(TokenColumn::RevokedAt, Expr::value(moments::kept(now)))
            .filter(own());
        revoke.exec(tx).await.map_err(failed)?;
        for token in &tokens {
            let (what, of) = (AuditAction::TokenRevoked, Some(token.id));
            self.note(tx, Noted { shop, now, by, what, of }).await?;
        }
        Ok(tokens.len())
    }

    /// The token of a text, whether it is still good or not, and how its shop is set up.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn token(&self, text: &str) -> Result<Option<(Token, SetupVersion)>, StoreError> {
        let mut own = Tokens::find().filter(Expr::col("hash").eq(token_hash(text)));
        setup_version::ask(QuerySelect::query(&mut own), "token");
        let found = own.into_model::<Stamped<TokenModel>>().one(&self.readers);
        let Some(Stamped { row, stamp }) = found.await.map_err(failed)? else { return Ok(None) };
        Ok(Some((token(row)?, stamp)))
    }

    /// Every token of a shop, in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn tokens(&self, shop: Uuid) -> Result<Vec<Token>, StoreError> {
        let own =
            Tokens::find().filter(Expr::col("shop_id").eq(shop)).order_by_asc(Expr::col("id"));
        let rows = own.all(&self.readers).await.map_err(failed)?;
        rows.into_iter().map(token).collect()
    }

    /// Ends a token. One that was revoked before stays revoked since then.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where the shop has none of that id.
    pub async fn revoke_token(
        &self,
        shop: Uuid,
        id: Uuid,
        now: DateTime<Utc>,
        by: By,
    ) -> Result<(), StoreError> {
        let tx = self.begin(shop).await.map_err(failed)?;
        let own = || Expr::col("shop_id").eq(shop).and(Expr::col("id").eq(id));
        let Some(token) = Tokens::find().filter(own()).one(&tx).await.map_err(failed)? else {
            return Err(StoreError::NotFound { what: "token", id: id.to_string() });
        };
        if token.revoked_at.is_some() {
            return Ok(());
        }
        let revoke =
            Tokens::update_many().col_expr(TokenColumn::RevokedAt, Expr::value(moments::kept(now)));
        revoke.filter(own()).exec(&tx).await.map_err(failed)?;
        let (what, of) = (AuditAction::TokenRevoked, Some(id));
        self.note(&tx, Noted { shop, now, by, what, of }).await?;
        tx.commit().await.map_err(failed)
    }
}
