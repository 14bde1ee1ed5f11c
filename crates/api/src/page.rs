//! Long lists, a page at a time: `?limit=&after=`, and `next` in the answer.

use std::str::FromStr;

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// How many rows a page may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Limit(u16);

const MOST: u16 = 500;

impl Default for Limit {
    fn default() -> Self {
        Self(100)
    }
}

impl Limit {
    /// The number.
    pub(crate) fn rows(self) -> usize {
        self.0.into()
    }
}

/// A number that is no limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a whole number from 1 to {MOST}")]
pub(crate) struct NotALimit;

impl FromStr for Limit {
    type Err = NotALimit;

    fn from_str(text: &str) -> Result<Self, NotALimit> {
        let number = text.parse().ok().filter(|number| (1..=MOST).contains(number));
        number.map(Self).ok_or(NotALimit)
    }
}

/// Where a page goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Cursor(pub Uuid);

/// A text that no page gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("what the page before gave as `next`")]
pub(crate) struct NotACursor;

impl FromStr for Cursor {
    type Err = NotACursor;

    fn from_str(text: &str) -> Result<Self, NotACursor> {
        Uuid::parse_str(text).map(Self).map_err(|_| NotACursor)
    }
}

/// A page of a list.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct Page<T> {
    /// The rows.
    pub items: Vec<T>,
    /// What to ask for `after`, to see the rows behind these; none where these are the last.
    pub next: Option<String>,
}

/// Cuts a list, of which one more than a page was read, to a page; gives where it goes on.
pub(crate) fn cut<T>(rows: &mut Vec<T>, limit: Limit, id: impl Fn(&T) -> Uuid) -> Option<String> {
    if rows.len() <= limit.rows() {
        return None;
    }
    rows.truncate(limit.rows());
    rows.last().map(|last| id(last).to_string())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_page_says_where_it_goes_on() {
        let ids: Vec<Uuid> = (1..=3).map(Uuid::from_u128).collect();
        let (mut two, mut three) = (ids[..2].to_vec(), ids.clone());
        let limit: Limit = "2".parse().unwrap();
        assert_eq!(cut(&mut two, limit, |id| *id), None);
        assert_eq!(cut(&mut three, limit, |id| *id), Some(ids[1].to_string()));
        assert_eq!(three, ids[..2]);
    }

    #[test]
    fn a_limit_is_from_1_to_500() {
        for odd in ["0", "501", "-1", "ten", "1.5"] {
            assert_eq!(odd.parse::<Limit>(), Err(NotALimit), "{odd}");
        }
        assert_eq!("500".parse::<Limit>().unwrap().rows(), 500);
    }
}
