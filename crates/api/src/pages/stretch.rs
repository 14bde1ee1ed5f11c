//! A stretch of a long list: as much of it as one page shows, and where the rest is.

use axum::http::Uri;

use super::form::Fields;

/// Rows that one page shows.
const MOST: usize = 50;

/// Where a page begins in a list: `?from=`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Begins(usize);

/// The part of a list that is shown, and how the others are reached.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stretch<T> {
    pub rows: Vec<T>,
    /// The page before, where there is one.
    pub before: Option<String>,
    /// The next page, where there is one.
    pub next: Option<String>,
}

impl Begins {
    /// What an address says; what is no number is the beginning.
    pub(crate) fn of(uri: &Uri) -> Self {
        let query = Fields::read(uri.query().unwrap_or_default().as_bytes());
        Self(query.text("from").and_then(|text| text.parse().ok()).unwrap_or(0))
    }

    /// The stretch that begins here, of a list whose page has this path.
    pub(crate) fn stretch<T>(self, all: Vec<T>, path: &str) -> Stretch<T> {
        let (Self(from), count) = (self, all.len());
        let next = Some(from.saturating_add(MOST)).filter(|next| *next < count);
        let before = (from > 0).then(|| from.saturating_sub(MOST).min(count));
        let address = |from: usize| format!("{path}?from={from}");
        Stretch {
            rows: all.into_iter().skip(from).take(MOST).collect(),
            before: before.map(address),
            next: next.map(address),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_gone_through_from_end_to_end() {
        let of = |from: &str| {
            let uri = format!("/list?from={from}").parse().unwrap();
            Begins::of(&uri).stretch((0..120).collect::<Vec<u32>>(), "/list")
        };
        let first = of("");
        assert_eq!((first.rows.len(), first.rows[0], first.before), (50, 0, None));
        assert_eq!(first.next.as_deref(), Some("/list?from=50"));
        let last = of("100");
        assert_eq!((last.rows.len(), last.rows[0], last.next), (20, 100, None));
        assert_eq!(last.before.as_deref(), Some("/list?from=50"));
        assert!(of("999").rows.is_empty());
        assert_eq!(of("soon").rows[0], 0);
    }
}
