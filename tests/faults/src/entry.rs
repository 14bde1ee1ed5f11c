//! What a client wrote down of one request: what it asked for, and what it was told.

use crate::http::{Answer, Ask, Told};

/// A table of the shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Table {
    Job,
    Pour,
    Receipt,
    Opening,
    Discard,
    Mix,
    Count,
    Order,
    Product,
}

impl Table {
    pub const ALL: [Self; 9] = [
        Self::Job,
        Self::Pour,
        Self::Receipt,
        Self::Opening,
        Self::Discard,
        Self::Mix,
        Self::Count,
        Self::Order,
        Self::Product,
    ];

    /// Its name in the database.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Job => "job",
            Self::Pour => "pour",
            Self::Receipt => "receipt",
            Self::Opening => "opening",
            Self::Discard => "discard",
            Self::Mix => "mix",
            Self::Count => "count",
            Self::Order => "purchase_order",
            Self::Product => "product",
        }
    }

    /// Whether a row of it may be reversed.
    pub const fn can_be_reversed(self) -> bool {
        !matches!(self, Self::Job | Self::Order | Self::Product)
    }
}

/// A row, by the id that the client gave it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Row {
    pub table: Table,
    pub id: String,
}

impl Row {
    pub fn new(table: Table, id: &str) -> Self {
        Self { table, id: id.to_owned() }
    }
}

/// What is asked for, beside new rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Deed {
    /// New rows and nothing else.
    Write,
    /// The end of a job.
    Finish { job: String },
    /// Another vehicle for a job.
    Change { job: String, vehicle: String },
    /// An order of this many lines.
    Order { lines: usize },
    /// A receipt of this many containers.
    Receive { containers: u64 },
    /// A row was a mistake.
    Reverse { row: Row },
    /// Something that has to be refused.
    Wrong,
}

/// How a request stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It was acknowledged.
    Done,
    /// It was refused, and certainly not done.
    Refused,
    /// Nobody said anything that can be relied on.
    Unknown,
}

/// A request and what it was told, each time that it was sent.
#[derive(Debug, Clone)]
pub struct Entry {
    pub ask: Ask,
    pub deed: Deed,
    /// The rows that it writes.
    pub rows: Vec<Row>,
    pub told: Vec<Told>,
    /// How long the journal of writes was when it was acknowledged.
    pub journal: u64,
}

impl Entry {
    pub fn new(ask: Ask, deed: Deed, rows: Vec<Row>) -> Self {
        Self { ask, deed, rows, told: Vec::new(), journal: 0 }
    }

    /// How it stands: acknowledged once is done; else the last that it was told counts.
    pub fn standing(&self) -> Standing {
        if self.acknowledged().is_some() {
            return Standing::Done;
        }
        match self.told.last() {
            Some(Told::Answer(answer)) if is_refusal(answer) => Standing::Refused,
            _ => Standing::Unknown,
        }
    }

    /// The answer that acknowledged it.
    pub fn acknowledged(&self) -> Option<&Answer> {
        self.told.iter().find_map(|told| match told {
            Told::Answer(answer) if (200..300).contains(&answer.status) => Some(answer),
            _ => None,
        })
    }

    /// What it was and what it was told, for whoever looks into a run.
    pub fn story(&self) -> String {
        let told = self.told.iter().map(|told| match told {
            Told::Answer(answer) => answer.status.to_string(),
            Told::Nothing(why) => format!("nothing ({why})"),
            Told::Unsent(why) => format!("unsent ({why})"),
        });
        let told: Vec<String> = told.collect();
        let Ask { method, path, key, .. } = &self.ask;
        format!("{method} {path} [{key}] told {}", told.join(", "))
    }
}

/// Whether an answer says for certain that nothing was done. The same request may still run.
fn is_refusal(answer: &Answer) -> bool {
    let runs_still = answer.status == 409 && answer.body.contains("still-running");
    (400..500).contains(&answer.status) && answer.status != 408 && !runs_still
}
