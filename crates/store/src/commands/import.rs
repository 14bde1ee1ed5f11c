//! Taking facts over: what is new in them is added, all of it or nothing.

use std::collections::HashSet;

use capful_domain::facts::Pour;
use capful_domain::{ExpectedPour, Facts, Id};
use serde_json::Value;

use crate::books::posting::{self, EntryMode};
use crate::books::shelf::ShelfRow;
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::work::Work;
use crate::queries::facts::{self, Which};
use crate::request::change::{Edited, Effects};
use crate::rows::Stored;

/// What an import that only sets up is called among what was edited.
pub(crate) const IMPORT: &str = "import";

impl Work<'_> {
    pub(crate) async fn import(
        &self,
        new: &Facts,
        expected: &[ExpectedPour],
    ) -> Result<Effects, Failure> {
        let known = facts::read(&self.tx, self.shop, Which::All).await?;
        let is_new = known.is_none();
        let known = known.unwrap_or_else(|| Facts::new(new.shop.clone()));
        if is_new {
            self.may_make_shop().await?;
            sql::insert(self, std::slice::from_ref(&new.shop)).await?;
        }
        let merged = capful_folder::merge(&known, new.clone());
        let (merged, added) = merged.map_err(StoreError::Problems)?;
        let new = &Added { known: &known, merged: &merged };
        self.add_setup(new).await?;
        let edited = Some(new.set_up()).filter(|_| !is_new && new.only_sets_up());
        let mut outcome = Effects { is_new, added: added.by_file, edited, ..Effects::default() };
        let known_jobs: HashSet<&Id> = known.jobs.iter().map(|job| &job.id).collect();
        let is_known = |pour: &&Pour| pour.job.as_ref().is_some_and(|job| known_jobs.contains(job));
        let later = new.rows(|facts| &facts.pours).iter().filter(is_known);
        let undone = self.undo_expected(&later.collect::<Vec<_>>(), &mut outcome).await?;
        let rows = new.shelf_rows(expected);
        let mut late =
            posting::post(self, &merged.shop, &rows, EntryMode::Import, &mut outcome).await?;
        late.extend(undone);
        self.add_history(new).await?;
        self.rebuild_late(&merged.shop, late, &mut outcome).await?;
        Ok(outcome)
    }

    async fn add_setup(&self, new: &Added<'_>) -> Result<(), Failure> {
        self.add(new, |facts| &facts.products).await?;
        self.add(new, |facts| &facts.ratios).await?;
        self.add(new, |facts| &facts.suppliers).await?;
        self.add(new, |facts| &facts.offers).await?;
        self.add(new, |facts| &facts.job_types).await?;
        self.add(new, |facts| &facts.usage_sheet).await
    }

    async fn add_history(&self, new: &Added<'_>) -> Result<(), Failure> {
        self.add(new, |facts| &facts.jobs).await?;
        self.add(new, |facts| &facts.orders).await?;
        self.add(new, |facts| &facts.order_lines).await?;
        self.add(new, |facts| &facts.pours).await?;
        self.add(new, |facts| &facts.receipts).await?;
        self.add(new, |facts| &facts.openings).await?;
        self.add(new, |facts| &facts.discards).await?;
        self.add(new, |facts| &facts.mixes).await?;
        self.add(new, |facts| &facts.counts).await
    }

    async fn add<T: Stored>(
        &self,
        new: &Added<'_>,
        list: impl Fn(&Facts) -> &Vec<T>,
    ) -> Result<(), Failure> {
        sql::insert(self, new.rows(list)).await?;
        Ok(())
    }
}

/// What is new: in each list, what stands behind the rows that were known.
struct Added<'f> {
    known: &'f Facts,
    merged: &'f Facts,
}

impl<'f> Added<'f> {
    fn rows<T>(&self, list: impl Fn(&Facts) -> &Vec<T>) -> &'f [T] {
        &list(self.merged)[list(self.known).len()..]
    }

    /// Whether it is all of what a shop is set up with, and not nothing.
    fn only_sets_up(&self) -> bool {
        let rows = |facts: &Facts| {
            let jobs = facts.jobs.len() + facts.orders.len() + facts.order_lines.len();
            let came = facts.receipts.len() + facts.openings.len() + facts.counts.len();
            jobs + came + facts.pours.len() + facts.discards.len() + facts.mixes.len()
        };
        rows(self.merged) == rows(self.known) && self.merged != self.known
    }

    /// What was set up, by what its rows are known by: what has to go where this is undone.
    fn set_up(&self) -> Edited {
        fn keys<T: Stored>(rows: &[T]) -> (String, Value) {
            (T::WHAT.to_owned(), rows.iter().map(Stored::key).collect())
        }
        let added = [
            keys(self.rows(|facts| &facts.products)),
            keys(self.rows(|facts| &facts.ratios)),
            keys(self.rows(|facts| &facts.suppliers)),
            keys(self.rows(|facts| &facts.offers)),
            keys(self.rows(|facts| &facts.job_types)),
            keys(self.rows(|facts| &facts.usage_sheet)),
        ];
        let after = Value::Object(added.into_iter().collect());
        Edited { row: IMPORT, before: Value::Null, after }
    }

    /// The new rows of the shelf in the order they happened, as a snapshot has them.
    fn shelf_rows<'r>(&self, expected: &'r [ExpectedPour]) -> Vec<ShelfRow<'r>>
    where
        'f: 'r,
    {
        let mut rows: Vec<ShelfRow<'r>> = Vec::new();
        rows.extend(self.rows(|facts| &facts.receipts).iter().map(ShelfRow::Receipt));
        rows.extend(self.rows(|facts| &facts.discards).iter().map(ShelfRow::Discard));
        rows.extend(self.rows(|facts| &facts.openings).iter().map(ShelfRow::Opening));
        rows.extend(self.rows(|facts| &facts.mixes).iter().map(ShelfRow::Mix));
        rows.extend(self.rows(|facts| &facts.pours).iter().map(ShelfRow::Pour));
        rows.extend(self.rows(|facts| &facts.counts).iter().map(ShelfRow::Count));
        let jobs: HashSet<&Id> = self.rows(|facts| &facts.jobs).iter().map(|job| &job.id).collect();
        let own = expected.iter().filter(|pour| jobs.contains(&pour.job));
        rows.extend(own.map(ShelfRow::Expected));
        rows.sort_by_key(|row| (row.at(), row.turn()));
        rows
    }
}
