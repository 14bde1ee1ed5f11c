//! What each kind of row has in common: its file, how it is read, written and known again.

use std::fmt::Display;

use capful_domain::{Money, Product, Shop};
use chrono::{DateTime, Utc};

use crate::cells;
use crate::formula;
use crate::problem::Findings;
use crate::references::References;
use crate::row::{Keys, Row};
use crate::table::{File, Table};

/// A row of one of the CSV files.
pub(crate) trait FolderRow: Sized + PartialEq {
    /// Its file and columns.
    const FILE: File;

    /// Reads it; `None` where something is wrong with it, which is told.
    fn read(row: &mut Row, references: &References) -> Option<Self>;

    /// Its cells, in the order of the columns.
    fn write(&self, pen: &Pen) -> Vec<String>;

    /// What it is known by in its file.
    fn key(&self) -> String;
}

/// Reads every row of a table that is not broken.
pub(crate) fn read_rows<T: FolderRow>(
    table: &Table,
    shop: &Shop,
    references: &References,
    findings: &mut Findings,
) -> Vec<T> {
    let mut keys = Keys::new();
    let whole = table.rows.iter().filter(|row| !row.broken);
    whole
        .filter_map(|row| {
            let (file, keys, findings) = (T::FILE, &mut keys, &mut *findings);
            T::read(&mut Row { file, shop, table, row, findings, keys, sound: true }, references)
        })
        .collect()
}

/// Writes what depends on the shop (its currency and its zone), and texts.
pub(crate) struct Pen<'s> {
    pub(crate) shop: &'s Shop,
}

impl Pen<'_> {
    /// A text, so that no spreadsheet runs it.
    pub(crate) fn text(&self, text: &str) -> String {
        formula::escape(text).into_owned()
    }

    pub(crate) fn optional_text(&self, text: Option<&str>) -> String {
        text.map(|text| self.text(text)).unwrap_or_default()
    }

    pub(crate) fn money(&self, money: Money) -> String {
        money.to_decimal(self.shop.currency).to_string()
    }

    pub(crate) fn optional_money(&self, money: Option<Money>) -> String {
        money.map(|money| self.money(money)).unwrap_or_default()
    }

    pub(crate) fn time(&self, moment: DateTime<Utc>) -> String {
        cells::write_time(moment, self.shop)
    }

    pub(crate) fn optional_time(&self, moment: Option<DateTime<Utc>>) -> String {
        moment.map(|moment| self.time(moment)).unwrap_or_default()
    }
}

/// A value's text, or an empty cell.
pub(crate) fn or_empty(value: Option<impl Display>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

impl Row<'_> {
    /// Tells where a container of this size would hold nothing, or too much, in the ledger.
    pub(crate) fn container_holds(&mut self, product: &Product, size: capful_domain::Amount) {
        if let Err(wrong) = product.quantity(size) {
            self.wrong("container_size", &wrong.to_string());
        }
    }
}
