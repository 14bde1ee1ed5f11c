//! Deeds: who did what, and what is needed to undo it. Each change of a shop is one.

use std::collections::BTreeSet;

use capful_domain::Id;
use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{
    DatabaseTransaction, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder, QuerySelect,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use uuid::Uuid;

use crate::db::error::failed;
use crate::db::error::{Failure, StoreError};
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::db::work::Work;
use crate::request::change::{Change, Effects, EventKind};
use crate::request::write_context::By;
use crate::rows::{DeedModel, Deeds};

/// What was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)] // each is named after what it is
pub enum AuditAction {
    JobBooked,
    JobChanged,
    JobStarted,
    JobCancelled,
    JobFinished,
    Poured,
    Opened,
    Mixed,
    Discarded,
    Counted,
    Received,
    OrderPlaced,
    OrderChanged,
    Reversed,
    Undone,
    /// A product, or a ratio that one is used at.
    Product,
    Supplier,
    Offer,
    /// A job type, with its usage sheet or without.
    JobType,
    /// A row of a usage sheet.
    UsageSheet,
    /// The settings.
    Shop,
    Imported,
    PersonAdded,
    /// What somebody is called or may do.
    PersonChanged,
    PasswordSet,
    PersonEnded,
    TokenMade,
    TokenRevoked,
    /// The words of a vehicle; it is of the jobs that named it.
    VehicleErased,
    /// A wrong password was given with somebody's name, or a name that nobody has.
    SignInWrong,
    /// Wrong passwords of somebody were forgotten, so that they may try again at once.
    SignInUnlocked,
    /// Somebody was signed out by somebody, or everybody was.
    SignedOut,
}

impl AuditAction {
    /// Everything that is done.
    pub const ALL: [Self; 32] = [
        Self::JobBooked,
        Self::JobChanged,
        Self::JobStarted,
        Self::JobCancelled,
        Self::JobFinished,
        Self::Poured,
        Self::Opened,
        Self::Mixed,
        Self::Discarded,
        Self::Counted,
        Self::Received,
        Self::OrderPlaced,
        Self::OrderChanged,
        Self::Reversed,
        Self::Undone,
        Self::Product,
        Self::Supplier,
        Self::Offer,
        Self::JobType,
        Self::UsageSheet,
        Self::Shop,
        Self::Imported,
        Self::PersonAdded,
        Self::PersonChanged,
        Self::PasswordSet,
        Self::PersonEnded,
        Self::TokenMade,
        Self::TokenRevoked,
        Self::VehicleErased,
        Self::SignInWrong,
        Self::SignInUnlocked,
        Self::SignedOut,
    ];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::JobBooked => "job-booked",
            Self::JobChanged => "job-changed",
            Self::JobStarted => "job-started",
            Self::JobCancelled => "job-cancelled",
            Self::JobFinished => "job-finished",
            Self::Poured => "poured",
            Self::Opened => "opened",
            Self::Mixed => "mixed",
            Self::Discarded => "discarded",
            Self::Counted => "counted",
            Self::Received => "received",
            Self::OrderPlaced => "order-placed",
            Self::OrderChanged => "order-changed",
            Self::Reversed => "reversed",
            Self::Undone => "undone",
            Self::Product => "product",
            Self::Supplier => "supplier",
            Self::Offer => "offer",
            Self::JobType => "job-type",
            Self::UsageSheet => "usage-sheet",
            Self::Shop => "shop",
            Self::Imported => "imported",
            Self::PersonAdded => "person-added",
            Self::PersonChanged => "person-changed",
            Self::PasswordSet => "password-set",
            Self::PersonEnded => "person-ended",
            Self::TokenMade => "token-made",
            Self::TokenRevoked => "token-revoked",
            Self::VehicleErased => "vehicle-erased",
            Self::SignInWrong => "sign-in-wrong",
            Self::SignInUnlocked => "sign-in-unlocked",
            Self::SignedOut => "signed-out",
        }
    }

    /// What a word says.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|what| what.word() == word)
    }

    /// Whether it sets the shop up, people and tokens included: who may not do that may not undo
    /// it either.
    #[must_use]
    pub const fn sets_up(self) -> bool {
        self.is_kept_with_rows()
            || matches!(
                self,
                Self::PersonAdded
                    | Self::PersonChanged
                    | Self::PasswordSet
                    | Self::PersonEnded
                    | Self::TokenMade
                    | Self::TokenRevoked
                    | Self::SignInWrong
                    | Self::SignInUnlocked
                    | Self::SignedOut
            )
    }

    /// Whether it can be undone only where what stood before is kept with it.
    const fn is_kept_with_rows(self) -> bool {
        matches!(
            self,
            Self::Product
                | Self::Supplier
                | Self::Offer
                | Self::JobType
                | Self::UsageSheet
                | Self::Shop
                | Self::Imported
        )
    }

    /// What is to be done instead, where it cannot be undone.
    const fn instead(self) -> Option<&'static str> {
        match self {
            Self::Reversed => Some("a reversal stays: write the row down anew"),
            Self::Undone => Some("what was undone stays so: do it anew"),
            Self::PersonAdded => Some("who was added stays: end them"),
            Self::PersonChanged => Some("what was changed of a person stays: change it back"),
            Self::PasswordSet => Some("a password stays: set another one"),
            Self::PersonEnded => Some("who was ended stays so: add them anew"),
            Self::TokenMade => Some("a token stays: revoke it"),
            Self::TokenRevoked => Some("what was revoked stays so: make another token"),
            Self::VehicleErased => Some("what was erased is gone: write the vehicle down anew"),
            Self::SignInWrong => Some("a wrong sign-in stays in the list"),
            Self::SignInUnlocked => Some("what was forgotten of tries stays so"),
            Self::SignedOut => Some("who was signed out signs in again"),
            _ => None,
        }
    }

    /// The same of one that was done: what is set up is undone where what stood there before is
    /// kept, and a shop is not undone.
    pub(crate) fn instead_of(self, written: &Value) -> Option<&'static str> {
        let is_new_shop = self == Self::Shop && written.get("before").is_none_or(Value::is_null);
        let is_kept = written.get("row").is_some() && !is_new_shop;
        match self {
            _ if !self.is_kept_with_rows() => self.instead(),
            _ if is_kept => None,
            Self::Imported => Some("an import stays: reverse those of its rows that are wrong"),
            _ => Some("what is set up stays: set it up as it is to be"),
        }
    }

    fn of(change: &Change) -> Self {
        match change {
            Change::Shop(_) => Self::Shop,
            Change::Product(_) | Change::Ratio(_) => Self::Product,
            Change::Supplier(_) => Self::Supplier,
            Change::Offer(_) => Self::Offer,
            Change::JobType(_) | Change::Service(..) => Self::JobType,
            Change::SheetRow(_) => Self::UsageSheet,
            Change::Book(_) => Self::JobBooked,
            Change::ChangeJob(_) => Self::JobChanged,
            Change::StartJob { .. } => Self::JobStarted,
            Change::CancelJob { .. } => Self::JobCancelled,
            Change::FinishJob(_) => Self::JobFinished,
            Change::Pour(_) => Self::Poured,
            Change::Open(_) => Self::Opened,
            Change::Mix(_) => Self::Mixed,
            Change::Discard(_) => Self::Discarded,
            Change::Count(_) => Self::Counted,
            Change::Receive(_) | Change::ReceiveLast { .. } => Self::Received,
            Change::PlaceOrder(..) => Self::OrderPlaced,
            Change::SetOrder { .. } => Self::OrderChanged,
            Change::Reverse { .. } => Self::Reversed,
            Change::Undo { .. } => Self::Undone,
            Change::Import { .. } => Self::Imported,
        }
    }

    /// The kind of rows that it writes, where it writes any on the shelf.
    pub(crate) const fn rows(self) -> Option<EventKind> {
        match self {
            Self::JobFinished | Self::Poured => Some(EventKind::Pour),
            Self::Opened => Some(EventKind::Opening),
            Self::Mixed => Some(EventKind::Mix),
            Self::Discarded => Some(EventKind::Discard),
            Self::Counted => Some(EventKind::Count),
            Self::Received => Some(EventKind::Receipt),
            _ => None,
        }
    }
}

/// Something that was done to a shop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditEntry {
    /// What it is undone by. Rises with the time it was done.
    pub id: Uuid,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: By,
    /// What it was.
    pub what: AuditAction,
    /// The id of what it was done to: a job, an order, a product, a supplier, a job type. Several
    /// products stand in one text, with `, ` between. Of what was reversed it is the row's id, of
    /// what was undone the deed's; a person's or a token's own id; empty where it is of the whole
    /// shop, or a name that nobody has.
    pub of: String,
    /// When it was undone.
    pub undone_at: Option<DateTime<Utc>>,
    /// Whether [`Change::Undo`] takes it: it is of a kind that can be undone, and was not. What was
    /// done since may still be in the way.
    pub can_be_undone: bool,
    /// Of wrong sign-ins: from where, and how many.
    pub wrong: Option<WrongSignIns>,
}

/// Passwords that were wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WrongSignIns {
    /// Where they came from, as an address; empty where that is not known, or was many.
    pub address: String,
    /// How many there were.
    pub count: u64,
    /// When the last one came.
    pub last_at: DateTime<Utc>,
}

/// The id of what a change is done to.
fn about(change: &Change) -> String {
    match change {
        Change::Shop(_) | Change::Import { .. } => String::new(),
        Change::Product(product) => product.id.to_string(),
        Change::Ratio(ratio) => ratio.product.to_string(),
        Change::Supplier(supplier) => supplier.id.to_string(),
        Change::Offer(offer) => offer.product.to_string(),
        Change::JobType(job_type) | Change::Service(job_type, _) => job_type.id.to_string(),
        Change::SheetRow(row) => row.job_type.to_string(),
        Change::Book(job) | Change::ChangeJob(job) => job.id.to_string(),
        Change::StartJob { job, .. } | Change::CancelJob { job, .. } => job.to_string(),
        Change::FinishJob(finish) => finish.job.row.id.to_string(),
        Change::Pour(pours) => listed(pours.iter().map(|pour| &pour.product)),
        Change::Open(opening) => opening.product.to_string(),
        Change::Mix(mix) => mix.product.to_string(),
        Change::Discard(discard) => discard.product.to_string(),
        Change::Count(count) => count.product.to_string(),
        Change::Receive(receipts) | Change::ReceiveLast { receipts, .. } => {
            listed(receipts.iter().map(|receipt| &receipt.product))
        }
        Change::PlaceOrder(order, _) => order.id.to_string(),
        Change::SetOrder { order, .. } => order.to_string(),
        Change::Reverse { id, .. } => id.to_string(),
        Change::Undo { deed } => deed.to_string(),
    }
}

fn listed<'i>(ids: impl Iterator<Item = &'i Id>) -> String {
    let ids: BTreeSet<&str> = ids.map(Id::as_str).collect();
    ids.into_iter().collect::<Vec<_>>().join(", ")
}

/// What is needed to undo something: the rows of the shelf that it wrote, by their kind, and what
/// an edit wrote over.
fn written(what: AuditAction, outcome: &Effects) -> String {
    let mut written = Map::new();
    if let Some(kind) = what.rows() {
        // The first that a job's end writes is the job.
        let skip = usize::from(what == AuditAction::JobFinished);
        let rows = outcome.written.get(skip..).unwrap_or_default();
        written.insert(kind.word().to_owned(), json!(rows));
    }
    if let Some(edited) = &outcome.edited {
        written.insert("row".to_owned(), edited.row.into());
        written.insert("before".to_owned(), edited.before.clone());
        written.insert("after".to_owned(), edited.after.clone());
    }
    Value::Object(written).to_string()
}

/// Keeps who did what, in its transaction; gives what it is known by.
pub(crate) async fn keep(
    work: &Work<'_>,
    by: By,
    change: &Change,
    outcome: &Effects,
) -> Result<Uuid, Failure> {
    let (id, what) = (work.new_id(), AuditAction::of(change));
    let (of, written) = (about(change), written(what, outcome));
    let row = DeedModel { written, ..row(work.shop, id, work.now, by, what, of) };
    sql::insert_models::<Deeds>(work, vec![row]).await?;
    Ok(id)
}

pub(crate) fn row(
    shop_id: Uuid,
    id: Uuid,
    at: DateTime<Utc>,
    by: By,
    what: AuditAction,
    about: String,
) -> DeedModel {
    let (by_kind, by_id) = match by {
        By::Nobody => ("nobody", None),
        By::Person(id) => ("person", Some(id)),
        By::Token(id) => ("token", Some(id)),
    };
    let (by_kind, what, written) = (by_kind.to_owned(), what.word().to_owned(), "{}".to_owned());
    DeedModel { shop_id, id, at, by_kind, by_id, what, about, written, undone_at: None }
}

/// What was done to a person or to a token of a shop, and by whom.
pub(crate) struct Noted {
    pub shop: Uuid,
    pub now: DateTime<Utc>,
    pub by: By,
    pub what: AuditAction,
    /// The person or the token; nothing where it is everybody.
    pub of: Option<Uuid>,
}

impl Store {
    /// Keeps it with who did what, in its transaction.
    pub(crate) async fn note(
        &self,
        tx: &DatabaseTransaction,
        noted: Noted,
    ) -> Result<(), StoreError> {
        let Noted { shop, now, by, what, of } = noted;
        let about = of.map(|of| of.to_string()).unwrap_or_default();
        self.note_of(tx, (shop, now, by), what, about).await?;
        Ok(())
    }

    /// Keeps what was done, and `about` what, with who did what, in its transaction; gives what it
    /// is known by.
    pub(crate) async fn note_of(
        &self,
        tx: &DatabaseTransaction,
        (shop, now, by): (Uuid, DateTime<Utc>, By),
        what: AuditAction,
        about: String,
    ) -> Result<Uuid, StoreError> {
        let id = self.new_uuid(now);
        let row = row(shop, id, moments::kept(now), by, what, about);
        let insert = Deeds::insert(row.into_active_model());
        insert.exec_without_returning(tx).await.map_err(failed)?;
        Ok(id)
    }
}

/// What a deed wrote.
pub(crate) fn read_written(row: &DeedModel) -> Result<Value, StoreError> {
    read_written_as(row)
}

/// The same, where what it wrote is of one kind.
pub(crate) fn read_written_as<T: DeserializeOwned>(row: &DeedModel) -> Result<T, StoreError> {
    let unreadable = |_| format!("what deed {} wrote cannot be read", row.id);
    serde_json::from_str(&row.written).map_err(unreadable).map_err(StoreError::Database)
}

impl AuditEntry {
    pub(crate) fn of_row(row: &DeedModel) -> Result<Self, StoreError> {
        let unknown = |word: &str| StoreError::Database(format!("no deed is of {word:?}"));
        let what = AuditAction::from_word(&row.what).ok_or_else(|| unknown(&row.what))?;
        let by = match (row.by_kind.as_str(), row.by_id) {
            ("nobody", None) => By::Nobody,
            ("person", Some(id)) => By::Person(id),
            ("token", Some(id)) => By::Token(id),
            _ => return Err(unknown(&row.by_kind)),
        };
        let wrong = match what {
            AuditAction::SignInWrong => Some(read_written_as(row)?),
            _ => None,
        };
        let can_be_undone =
            row.undone_at.is_none() && what.instead_of(&read_written(row)?).is_none();
        Ok(Self {
            id: row.id,
            at: row.at,
            by,
            what,
            of: row.about.clone(),
            undone_at: row.undone_at,
            can_be_undone,
            wrong,
        })
    }
}

impl Work<'_> {
    /// A deed.
    pub(crate) async fn find_deed(&self, id: Uuid) -> Result<DeedModel, Failure> {
        let own = Deeds::find().filter(sql::of_shop(self.shop)).filter(Expr::col("id").eq(id));
        let row = own.one(&self.tx).await?;
        Ok(row.ok_or_else(|| StoreError::NotFound { what: "deed", id: id.to_string() })?)
    }
}

impl Store {
    /// What was done to a shop, the last first: at most `limit`, done before the one of the id
    /// `before`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn deeds(
        &self,
        shop: Uuid,
        before: Option<Uuid>,
        limit: u64,
    ) -> Result<Vec<AuditEntry>, StoreError> {
        let mut own = Deeds::find().filter(sql::of_shop(shop));
        if let Some(before) = before {
            own = own.filter(Expr::col("id").lt(before));
        }
        let own = own.order_by_desc(Expr::col("id")).limit(limit);
        own.all(&self.readers).await.map_err(failed)?.iter().map(AuditEntry::of_row).collect()
    }

    /// One thing that was done to a shop; nothing where there is none of that id.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn deed(&self, shop: Uuid, id: Uuid) -> Result<Option<AuditEntry>, StoreError> {
        let own = Deeds::find().filter(sql::of_shop(shop)).filter(Expr::col("id").eq(id));
        let row = own.one(&self.readers).await.map_err(failed)?;
        row.as_ref().map(AuditEntry::of_row).transpose()
    }
}
