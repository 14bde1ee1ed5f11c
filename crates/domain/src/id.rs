//! Identifiers: short texts that a shop chooses, checked once and then trusted.

use std::fmt;
use std::sync::Arc;

/// Most characters of an identifier.
pub const MOST_CHARS: usize = 64;

/// What is wrong with a text that should be an identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("1 to 64 letters, digits, `.`, `_` or `-`")]
pub struct NotAnId;

/// The shop's own name for a row: 1 to 64 letters, digits, `.`, `_` or `-`.
///
/// ```
/// use capful_domain::Id;
/// assert_eq!(Id::parse("iron-remover").unwrap().as_str(), "iron-remover");
/// assert!(Id::parse("iron remover").is_err());
/// assert!(Id::parse("").is_err());
/// ```
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Id(Arc<str>);

impl Id {
    /// Checks and takes a text.
    ///
    /// # Errors
    /// [`NotAnId`] where it is empty, longer than 64 characters or holds another character.
    pub fn parse(text: &str) -> Result<Self, NotAnId> {
        let length = text.chars().count();
        let allowed = |c: char| c.is_alphanumeric() || matches!(c, '.' | '_' | '-');
        if (1..=MOST_CHARS).contains(&length) && text.chars().all(allowed) {
            Ok(Self(text.into()))
        } else {
            Err(NotAnId)
        }
    }

    /// The text itself.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Debug for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Names one container: `RECEIPT/1` for what a receipt brought (`COUNT/1`, `OPENING/1` for what a
/// count or an opening found), a mix's own id for a mix.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ContainerId(Arc<str>);

impl ContainerId {
    /// The `number`th container (from 1) that the row `source` brought.
    #[must_use]
    pub fn of(source: &Id, number: u32) -> Self {
        Self(format!("{source}/{number}").into())
    }

    /// The container that the mix `id` filled.
    #[must_use]
    pub fn of_mix(id: &Id) -> Self {
        Self(id.as_str().into())
    }

    /// Reads `ID` or `ID/NUMBER`.
    ///
    /// # Errors
    /// [`NotAnId`] where the part before the `/` is no id or the part behind it no number from 1.
    pub fn parse(text: &str) -> Result<Self, NotAnId> {
        let (source, number) = match text.split_once('/') {
            Some((source, number)) => (source, Some(number)),
            None => (text, None),
        };
        Id::parse(source)?;
        match number.map(str::parse::<u32>) {
            None => Ok(Self(text.into())),
            Some(Ok(n)) if n > 0 => Ok(Self(format!("{source}/{n}").into())),
            Some(_) => Err(NotAnId),
        }
    }

    /// The text itself.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The row that brought it: `R-0412` of `R-0412/1`.
    #[must_use]
    pub fn source(&self) -> &str {
        self.0.split_once('/').map_or(&*self.0, |(source, _)| source)
    }
}

impl fmt::Display for ContainerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Debug for ContainerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}
