//! A request that changes something, and what became of it.

use chrono::{DateTime, Utc};
use uuid::Uuid;

/// Who asks, when, and how it is known again.
#[derive(Debug, Clone)]
pub struct WriteContext {
    /// The shop.
    pub shop: Uuid,
    /// When it was asked.
    pub now: DateTime<Utc>,
    /// What the request is known again by; nothing where it cannot come twice.
    pub once: Option<Once>,
    /// The version that was read, where the row is to be written only if it is still that.
    pub if_match: Option<i64>,
    /// Whether the shop is to be the only one of the database, where it is made by this.
    pub is_first: bool,
    /// By whom, as it is told of who did what.
    pub by: By,
}

/// By whom something was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum By {
    /// By nobody who is known: the program itself, on the machine that it runs on.
    #[default]
    Nobody,
    /// By somebody who signed in.
    Person(Uuid),
    /// By a program that holds a token.
    Token(Uuid),
}

impl By {
    /// The person, where it was one.
    #[must_use]
    pub const fn person(self) -> Option<Uuid> {
        match self {
            Self::Person(id) => Some(id),
            Self::Nobody | Self::Token(_) => None,
        }
    }
}

impl WriteContext {
    /// A request that cannot come twice, of whatever version.
    #[must_use]
    pub const fn plainly(shop: Uuid, now: DateTime<Utc>) -> Self {
        Self { shop, now, once: None, if_match: None, is_first: false, by: By::Nobody }
    }

    /// The same, known again by a key and what was asked.
    #[must_use]
    pub fn once(mut self, key: &str, fingerprint: &str) -> Self {
        self.once = Some(Once { key: key.to_owned(), fingerprint: fingerprint.to_owned() });
        self
    }

    /// The same, refused where it makes the shop and the database holds another.
    #[must_use]
    pub const fn first(mut self) -> Self {
        self.is_first = true;
        self
    }

    /// The same, by somebody.
    #[must_use]
    pub const fn by(mut self, by: By) -> Self {
        self.by = by;
        self
    }
}

/// What a request is known again by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Once {
    /// The key, unique in its shop for at least a day.
    pub key: String,
    /// A digest of what was asked: method, path and body.
    pub fingerprint: String,
}

/// What was answered, as it is given again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// The body.
    pub body: String,
}

/// What became of a request.
#[derive(Debug, Clone, PartialEq)]
pub enum Answered<T> {
    /// It was done now. The answer is the one that was kept.
    Fresh(T, Answer),
    /// It had been done before, and answered like this.
    Replayed(Answer),
}

impl<T> Answered<T> {
    /// The answer, first or again.
    pub fn answer(&self) -> &Answer {
        match self {
            Self::Fresh(_, answer) | Self::Replayed(answer) => answer,
        }
    }

    /// What was done, where it was done now.
    pub fn now(self) -> Option<T> {
        match self {
            Self::Fresh(outcome, _) => Some(outcome),
            Self::Replayed(_) => None,
        }
    }
}
