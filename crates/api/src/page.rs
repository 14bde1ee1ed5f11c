//! Long lists, a page at a time: `?limit=&after=`, and `next` in the answer.

use std::str::FromStr;

use capful_domain::AsOf;
use capful_store::{Stored, Versioned};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{digits, parsed};
use crate::problem::Problem;
use crate::schema;

/// Which page of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichPage {
    /// Answer as it would have been then: a day, or a time. Without it: now.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedCursor, required = false)]
    pub after: Option<Cursor>,
}

/// How many rows a page may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Limit(u16);

pub(crate) const MOST: u16 = 500;

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
        let number = digits(text).filter(|number| (1..=MOST).contains(number));
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
        // As it was given, and in none of the other ways that such a number is written.
        let id = Uuid::parse_str(text).ok().filter(|_| text.len() == 36);
        id.map(Self).ok_or(NotACursor)
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

impl<T> Page<T> {
    /// The same page of what each row comes to.
    pub(crate) fn map<U>(self, of: impl FnMut(T) -> Option<U>) -> Page<U> {
        Page { items: self.items.into_iter().filter_map(of).collect(), next: self.next }
    }
}

/// Rows that are read from the store at a time.
pub(crate) const BLOCK: u64 = 500;

/// More rows than there are: one question reads them all, however many.
const WHOLE: u64 = i64::MAX.unsigned_abs();

/// A page of a table's rows, in the order they were made; `keep` maps each row to its place in the
/// answer, or passes it over.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn of_table<T: Stored, U>(
    api: &Api,
    caller: &Caller,
    after: Option<Cursor>,
    limit: Option<Limit>,
    keep: impl Fn(Versioned<T>) -> Option<U>,
) -> Result<Page<U>, Problem> {
    let limit = limit.unwrap_or_default().rows();
    let mut after = after.map(|Cursor(id)| id);
    let (mut items, mut last) = (Vec::new(), None);
    loop {
        let rows = api.store.page::<T>(caller.shop, after, BLOCK).await?;
        let is_end = rows.len() < usize::try_from(BLOCK).unwrap_or(usize::MAX);
        for row in rows {
            let id = row.place.id;
            after = Some(id);
            let Some(item) = keep(row) else { continue };
            if items.len() == limit {
                return Ok(Page { items, next: last.map(|id: Uuid| id.to_string()) });
            }
            items.push(item);
            last = Some(id);
        }
        if is_end {
            return Ok(Page { items, next: None });
        }
    }
}

/// Every row of a table, in the order they were made.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn whole<T: Stored>(
    api: &Api,
    caller: &Caller,
) -> Result<Vec<Versioned<T>>, Problem> {
    Ok(api.store.page::<T>(caller.shop, None, WHOLE).await?)
}

/// A page of those rows of a list at hand that are wanted, by what its rows are known by. Where the
/// page goes on is looked for among all of them: a row may have been wanted when the page before
/// was given, and not be any more.
///
/// # Errors
/// [`Problem`] where no row is known by `after`.
pub(crate) fn of_list<T>(
    mut items: Vec<T>,
    after: Option<&str>,
    limit: Option<Limit>,
    key: impl Fn(&T) -> &str,
    is_wanted: impl Fn(&T) -> bool,
) -> Result<Page<T>, Problem> {
    let limit = limit.unwrap_or_default().rows();
    if let Some(after) = after {
        let place = items.iter().position(|item| key(item) == after);
        let wrong = || Problem::query("after", format!("found {after:?}, expected {NotACursor}"));
        items.drain(..=place.ok_or_else(wrong)?);
    }
    items.retain(is_wanted);
    let more = items.len() > limit;
    items.truncate(limit);
    let next = items.last().filter(|_| more).map(|last| key(last).to_owned());
    Ok(Page { items, next })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_page_says_where_it_goes_on() {
        let page = |after, limit: &str| {
            of_list(vec!["a", "b", "c"], after, Some(limit.parse().unwrap()), |item| item, |_| true)
                .unwrap()
        };
        let first = page(None, "2");
        assert_eq!((first.items, first.next.as_deref()), (vec!["a", "b"], Some("b")));
        let rest = page(Some("b"), "2");
        assert_eq!((rest.items, rest.next), (vec!["c"], None));
        assert_eq!(page(None, "3").next, None);
    }

    #[test]
    fn a_page_goes_on_behind_a_row_that_is_not_wanted_any_more() {
        let (rows, is_wanted) = (vec!["a", "b", "c"], |item: &&str| *item != "b");
        let rest = of_list(rows, Some("b"), None, |item| item, is_wanted).unwrap();
        assert_eq!((rest.items, rest.next), (vec!["c"], None));
    }

    #[test]
    fn a_cursor_that_no_page_gave_is_refused() {
        let wrong = of_list(vec!["a"], Some("z"), None, |item| item, |_| true).unwrap_err();
        assert_eq!(wrong.field.as_deref(), Some("after"));
    }

    #[test]
    fn a_limit_is_from_1_to_500() {
        for odd in ["0", "501", "-1", "+1", "ten", "1.5", ""] {
            assert_eq!(odd.parse::<Limit>(), Err(NotALimit), "{odd}");
        }
        assert_eq!("500".parse::<Limit>().unwrap().rows(), 500);
    }
}
