//! Adds what is new in one shop's facts to another's.

use std::collections::HashMap;

use capful_domain::Facts;

use crate::folder_row::FolderRow;
use crate::problem::{MOST_LISTED, Problem};
use crate::shop_toml::SHOP_TOML;

/// What a merge added.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Added {
    /// Rows added to each file that got any, in the order of the folder's page.
    pub by_file: Vec<(&'static str, usize)>,
}

impl Added {
    /// Rows added to all files together.
    #[must_use]
    pub fn total(&self) -> usize {
        self.by_file.iter().map(|(_, rows)| rows).sum()
    }
}

/// `existing`, and behind it what is new in `new`, each list in its own order.
///
/// A row is known by its `id`; one without, by what it may have only once in its file (a line of
/// an order by order, product and its place among such lines). A row that is there already is
/// passed over. The settings of `existing` stay.
///
/// # Errors
/// A [`Problem`] for each row that is there with other content, and one where the two shops do
/// not share their time zone or currency. Nothing is added then. Rows are named by their keys:
/// facts do not hold lines. Past [`MOST_LISTED`] there is one more for each file, with the number
/// of its rows that are not listed.
pub fn merge(existing: &Facts, new: Facts) -> Result<(Facts, Added), Vec<Problem>> {
    let mut merging = Merging::default();
    let (old, other) = (&existing.shop, &new.shop);
    merging.same("timezone", old.timezone.name(), other.timezone.name());
    merging.same("currency", old.currency.code(), other.currency.code());
    let facts = Facts {
        shop: old.clone(),
        products: merging.rows(&existing.products, new.products),
        ratios: merging.rows(&existing.ratios, new.ratios),
        suppliers: merging.rows(&existing.suppliers, new.suppliers),
        offers: merging.rows(&existing.offers, new.offers),
        job_types: merging.rows(&existing.job_types, new.job_types),
        usage_sheet: merging.rows(&existing.usage_sheet, new.usage_sheet),
        jobs: merging.rows(&existing.jobs, new.jobs),
        pours: merging.rows(&existing.pours, new.pours),
        receipts: merging.rows(&existing.receipts, new.receipts),
        openings: merging.rows(&existing.openings, new.openings),
        discards: merging.rows(&existing.discards, new.discards),
        mixes: merging.rows(&existing.mixes, new.mixes),
        counts: merging.rows(&existing.counts, new.counts),
        orders: merging.rows(&existing.orders, new.orders),
        order_lines: merging.rows(&existing.order_lines, new.order_lines),
    };
    if merging.problems.is_empty() { Ok((facts, merging.added)) } else { Err(merging.problems) }
}

#[derive(Default)]
struct Merging {
    problems: Vec<Problem>,
    added: Added,
}

impl Merging {
    fn same(&mut self, key: &str, old: &str, new: &str) {
        if old != new {
            let expected = format!("{old}, as the shop has it");
            self.problems.push(Problem::new(SHOP_TOML, 0, key, new, &expected));
        }
    }

    fn rows<T: FolderRow + Clone>(&mut self, existing: &[T], new: Vec<T>) -> Vec<T> {
        let mut places = HashMap::new();
        let known: HashMap<_, _> =
            existing.iter().map(|row| (place(&mut places, row), row)).collect();
        let mut rows = existing.to_vec();
        let mut unlisted = 0;
        places.clear();
        for row in new {
            let (key, place) = place(&mut places, &row);
            match known.get(&(key.clone(), place)) {
                None => rows.push(row),
                Some(same) if **same == row => {}
                Some(_) if self.problems.len() < MOST_LISTED => {
                    let column = T::FILE.columns.first().copied().unwrap_or_default();
                    let expected = "the same content as the row that is there already";
                    self.problems.push(Problem::new(T::FILE.name, 0, column, &key, expected));
                }
                Some(_) => unlisted += 1,
            }
        }
        if unlisted > 0 {
            let found = format!("{unlisted} more rows");
            let expected = "the same content as the rows that are there already";
            self.problems.push(Problem::new(T::FILE.name, 0, "", &found, expected));
        }
        let added = rows.len() - existing.len();
        if added > 0 {
            self.added.by_file.push((T::FILE.name, added));
        }
        rows
    }
}

/// A row's key, and its place from 0 among the rows of that key so far.
fn place<T: FolderRow>(places: &mut HashMap<String, usize>, row: &T) -> (String, usize) {
    let next = places.entry(row.key()).or_default();
    *next += 1;
    (row.key(), *next - 1)
}
