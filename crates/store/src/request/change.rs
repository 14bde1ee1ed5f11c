//! Everything that can be done to a shop, each in one transaction.

use capful_domain::facts::{Count, Discard, Mix, Opening, Order, OrderLine, OrderStatus};
use capful_domain::facts::{Pour, Receipt};
use capful_domain::{
    Container, ExpectedPour, Facts, Id, Job, JobType, Movement, NamedRatio, Offer, Product,
    SheetRow, Shop, Supplier,
};
use chrono::{DateTime, Utc};
use uuid::Uuid;

use crate::queries::listing::{Posted, Versioned};

/// One thing that is done to a shop.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Change {
    /// The settings; makes the shop where there is none. The currency stays.
    Shop(Box<Shop>),
    /// A product, new or as it is from now on. What it is measured in stays.
    Product(Box<Product>),
    /// A ratio that a product is used at, known by product and label.
    Ratio(NamedRatio),
    /// A supplier.
    Supplier(Supplier),
    /// An offer, known by supplier, product and pack.
    Offer(Offer),
    /// A job type.
    JobType(JobType),
    /// A job type with its usage sheet as it is from now on: rows that are not listed are taken
    /// off it.
    Service(JobType, Vec<SheetRow>),
    /// A row of the usage sheet, known by job type, product and ratio.
    SheetRow(SheetRow),

    /// A new job.
    Book(Job),
    /// A job as it is from now on: its day, types, size, condition, vehicle and price. When it was
    /// booked and how far it has come stay.
    ChangeJob(Job),
    /// Work on a booked job began.
    StartJob {
        /// Which.
        job: Id,
        /// When.
        at: DateTime<Utc>,
    },
    /// A job that is not finished was called off.
    CancelJob {
        /// Which.
        job: Id,
        /// When.
        at: DateTime<Utc>,
    },
    /// Work on a job ended.
    FinishJob(Finish),

    /// Pours, of one job or of none, all or none of them.
    Pour(Vec<Pour>),
    /// A container was opened.
    Open(Opening),
    /// A container was filled with concentrate and water.
    Mix(Mix),
    /// Something was thrown away.
    Discard(Discard),
    /// Somebody counted or weighed.
    Count(Count),
    /// What came in, one row a lot, all or none of them. In parts, where an order is named.
    Receive(Vec<Receipt>),
    /// The same of one order, and nothing more of it will come.
    ReceiveLast {
        /// What came in, at least one row; each names the order.
        receipts: Vec<Receipt>,
        /// Which.
        order: Id,
    },

    /// An order with its lines.
    PlaceOrder(Order, Vec<OrderLine>),
    /// How an order stands from now on.
    SetOrder {
        /// Which.
        order: Id,
        /// How it stands.
        status: OrderStatus,
    },

    /// A row of the shelf was a mistake. What it did is undone by new movements.
    Reverse {
        /// What kind of row.
        kind: EventKind,
        /// Which.
        id: Id,
    },

    /// What somebody did is undone: what it wrote is reversed or as it was before.
    Undo {
        /// Which, as [`Outcome::deed`] and [`crate::Store::deeds`] give it.
        deed: Uuid,
    },

    /// What is new in these facts, rows known by their ids. Makes the shop where there is none.
    Import {
        /// The facts.
        facts: Box<Facts>,
        /// What done jobs for which nothing was poured are taken to have used. Those of jobs that
        /// are not new are passed over.
        expected: Vec<ExpectedPour>,
    },
}

/// A job's end, and what it took.
#[derive(Debug, Clone, PartialEq)]
pub struct Finish {
    /// Which job, as it was read; where it was changed since, it is not finished.
    pub job: Versioned<Job>,
    /// When.
    pub at: DateTime<Utc>,
    /// What was measured or weighed. Their job is this one.
    pub pours: Vec<Pour>,
    /// What the rest of its sheet is taken to have used: products that `pours` hold or that were
    /// poured for it before are passed over. Written down as expected pours of their own.
    pub expected: Vec<ExpectedPour>,
}

/// A kind of row that tells of one moment on the shelf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)] // each is named after what it is
pub enum EventKind {
    Pour,
    Receipt,
    Opening,
    Discard,
    Mix,
    Count,
}

impl EventKind {
    /// Every kind.
    pub const ALL: [Self; 6] =
        [Self::Pour, Self::Receipt, Self::Opening, Self::Discard, Self::Mix, Self::Count];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pour => "pour",
            Self::Receipt => "receipt",
            Self::Opening => "opening",
            Self::Discard => "discard",
            Self::Mix => "mix",
            Self::Count => "count",
        }
    }

    /// The kind of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// What a change came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Effects {
    /// What the rows that were written are known by, in their order.
    pub written: Vec<String>,
    /// The version of a row that was set up, booked, changed or ordered.
    pub version: Option<i64>,
    /// Whether that row is new.
    pub is_new: bool,
    /// The movements that were posted, in their order.
    pub movements: Vec<Movement>,
    /// The same as they stand in the database.
    pub posted: Vec<Posted>,
    /// The containers that were touched, as they are now, by their names.
    pub containers: Vec<Container>,
    /// Rows that an import added to each table that got any.
    pub added: Vec<(&'static str, usize)>,
    /// What it is known by among what was done, and undone by.
    pub deed: Uuid,
    /// What an edit wrote over, and what by, so that it can be undone.
    pub(crate) edited: Option<Edited>,
}

/// What an edit wrote over, and what stands there since.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Edited {
    /// The kind of row.
    pub row: &'static str,
    /// Nothing where the row is new.
    pub before: serde_json::Value,
    pub after: serde_json::Value,
}
