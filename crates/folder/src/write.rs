//! Writes the whole folder.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use capful_domain::Facts;

use crate::folder_row::{FolderRow, Pen};
use crate::shop_toml::{SHOP_TOML, write_shop};

/// Writes every file of the shop folder, an empty list as a header row alone.
///
/// Each file is written under another name first and takes its place when all are whole, so that
/// a write that fails leaves the old files. Other files in the folder stay.
///
/// # Errors
/// What the file system says.
pub fn write(facts: &Facts, folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let files = to_files(facts);
    let new = |name: &str| folder.join(format!(".{name}.new"));
    let put = |(name, bytes): (&String, &Vec<u8>)| {
        let mut file = File::create(new(name))?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    if let Err(error) = files.iter().try_for_each(put) {
        for name in files.keys() {
            let _ = fs::remove_file(new(name)); // the first error is the one to tell
        }
        return Err(error);
    }
    files.keys().try_for_each(|name| fs::rename(new(name), folder.join(name)))
}

/// Every file of the shop folder, by its name.
#[must_use]
pub fn to_files(facts: &Facts) -> BTreeMap<String, Vec<u8>> {
    let pen = Pen { shop: &facts.shop };
    let csv = [
        csv_file(&facts.products, &pen),
        csv_file(&facts.ratios, &pen),
        csv_file(&facts.suppliers, &pen),
        csv_file(&facts.offers, &pen),
        csv_file(&facts.job_types, &pen),
        csv_file(&facts.usage_sheet, &pen),
        csv_file(&facts.jobs, &pen),
        csv_file(&facts.pours, &pen),
        csv_file(&facts.receipts, &pen),
        csv_file(&facts.openings, &pen),
        csv_file(&facts.discards, &pen),
        csv_file(&facts.mixes, &pen),
        csv_file(&facts.counts, &pen),
        csv_file(&facts.orders, &pen),
        csv_file(&facts.order_lines, &pen),
    ];
    let shop = (SHOP_TOML.to_owned(), write_shop(&facts.shop).into_bytes());
    [shop].into_iter().chain(csv).collect()
}

/// One file: its name and its text, each row ending in CR LF (RFC 4180).
fn csv_file<T: FolderRow>(rows: &[T], pen: &Pen) -> (String, Vec<u8>) {
    let mut text = String::new();
    put_record(&mut text, T::FILE.names());
    for row in rows {
        put_record(&mut text, row.write(pen).iter().map(String::as_str));
    }
    (T::FILE.name.to_owned(), text.into_bytes())
}

fn put_record<'c>(text: &mut String, cells: impl Iterator<Item = &'c str>) {
    for (index, cell) in cells.enumerate() {
        if index > 0 {
            text.push(',');
        }
        if cell.contains([',', '"', '\r', '\n']) {
            text.push('"');
            text.push_str(&cell.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(cell);
        }
    }
    text.push_str("\r\n");
}
