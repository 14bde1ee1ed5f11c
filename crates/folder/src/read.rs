//! Reads the whole folder: texts, then tables, then rows.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::Path;
use std::{fs, io};

use capful_domain::facts::{Count, Discard, Mix, Opening, Order, OrderLine, Pour, Receipt};
use capful_domain::{
    Currency, Facts, Job, JobType, NamedRatio, Offer, Product, SheetRow, Shop, Supplier,
};

use crate::folder_row::{FolderRow, read_rows};
use crate::problem::{Errors, Findings, Problem, Warning};
use crate::references::References;
use crate::shop_toml::{SHOP_TOML, read_shop};
use crate::table::{File, Table};

/// The CSV files, in the order of the page that describes them.
const CSV_FILES: [File; 15] = [
    Product::FILE,
    NamedRatio::FILE,
    Supplier::FILE,
    Offer::FILE,
    JobType::FILE,
    SheetRow::FILE,
    Job::FILE,
    Pour::FILE,
    Receipt::FILE,
    Opening::FILE,
    Discard::FILE,
    Mix::FILE,
    Count::FILE,
    Order::FILE,
    OrderLine::FILE,
];

/// Most bytes of the settings: with every closed day of a century they have a twentieth of that.
const MOST_SETTINGS: usize = 1 << 20;

/// The names of every file of the folder, in the order in which they are told of.
fn names() -> Vec<&'static str> {
    [SHOP_TOML].into_iter().chain(CSV_FILES.iter().map(|file| file.name)).collect()
}

/// A folder that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What the shop has written down.
    pub facts: Facts,
    /// What is odd, by file and line: unknown files and columns, money read to the nearest. At
    /// most [`MOST_LISTED`](crate::MOST_LISTED).
    pub warnings: Vec<Warning>,
    /// How many more oddities there are.
    pub more_warnings: usize,
}

/// Reads and checks the shop folder at a path.
///
/// # Errors
/// [`Errors`] with everything that is wrong; where a file cannot be opened, with that alone.
pub fn read(folder: &Path) -> Result<Reading, Errors> {
    match load(folder) {
        Ok(files) => read_files(&files),
        Err(problem) => Err(Errors { problems: vec![problem], ..Errors::default() }),
    }
}

/// The files of a folder; one that is not of a shop folder is not opened, and stands empty.
fn load(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, Problem> {
    let problem = |name: &str, error: io::Error, expected: &str| {
        Problem::new(name, 0, "", &error.to_string(), expected)
    };
    let no_folder = |error| problem(&folder.display().to_string(), error, "a shop folder");
    let names = names();
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).map_err(no_folder)? {
        let entry = entry.map_err(no_folder)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let bytes = if names.contains(&name.as_str()) {
            fs::read(entry.path()).map_err(|e| problem(&name, e, "a file that can be read"))?
        } else {
            Vec::new()
        };
        files.insert(name, bytes);
    }
    Ok(files)
}

/// Reads and checks the files of a shop folder, each by its name.
///
/// # Errors
/// [`Errors`] with everything that is wrong.
pub fn read_files(files: &BTreeMap<String, Vec<u8>>) -> Result<Reading, Errors> {
    let names = names();
    let mut findings = Findings::new(names.clone());
    for name in files.keys().filter(|name| !names.contains(&name.as_str())) {
        findings.warn(name, 0, "", "unknown file, not read");
    }
    let texts: Texts = files.iter().map(|(name, bytes)| (name.as_str(), decode(bytes))).collect();
    let shop = shop(&texts, &mut findings);
    let tables = Tables::read(&texts, &mut findings);
    let facts = facts(shop, &tables, &mut findings);
    let found = findings.into_errors();
    if found.problems.is_empty() {
        let Errors { warnings, more_warnings, .. } = found;
        Ok(Reading { facts, warnings, more_warnings })
    } else {
        Err(found)
    }
}

/// The text of each file, and whether it is torn: bytes of it are not UTF-8 and stand as U+FFFD.
type Texts<'f> = BTreeMap<&'f str, (Cow<'f, str>, bool)>;

/// Text without its byte order mark, and whether it is torn.
fn decode(bytes: &[u8]) -> (Cow<'_, str>, bool) {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let text = String::from_utf8_lossy(bytes);
    let torn = matches!(text, Cow::Owned(_));
    (text, torn)
}

fn shop(texts: &Texts, findings: &mut Findings) -> Shop {
    let Some((text, torn)) = texts.get(SHOP_TOML) else {
        let expected = "this file, with at least name, timezone and currency";
        findings.tell(Problem::new(SHOP_TOML, 0, "", "", expected));
        return Shop::new("", chrono_tz::UTC, Currency::NONE);
    };
    if text.len() > MOST_SETTINGS {
        let found = format!("{} bytes", text.len());
        let expected = format!("a file of at most {MOST_SETTINGS} bytes");
        findings.tell(Problem::new(SHOP_TOML, 0, "", &found, &expected));
        return Shop::new("", chrono_tz::UTC, Currency::NONE);
    }
    let shop = read_shop(text, findings);
    for (line, number) in text.lines().zip(1..).filter(|_| *torn) {
        if line.contains(char::REPLACEMENT_CHARACTER) {
            findings.tell(Problem::new(SHOP_TOML, number, "", line, "UTF-8 text"));
        }
    }
    shop
}

/// Every CSV file as a table.
pub(crate) struct Tables<'t> {
    pub(crate) products: Table<'t>,
    ratios: Table<'t>,
    pub(crate) suppliers: Table<'t>,
    offers: Table<'t>,
    pub(crate) job_types: Table<'t>,
    usage_sheet: Table<'t>,
    pub(crate) jobs: Table<'t>,
    pours: Table<'t>,
    pub(crate) receipts: Table<'t>,
    pub(crate) openings: Table<'t>,
    discards: Table<'t>,
    pub(crate) mixes: Table<'t>,
    pub(crate) counts: Table<'t>,
    pub(crate) orders: Table<'t>,
    order_lines: Table<'t>,
}

impl<'t> Tables<'t> {
    fn read(texts: &'t Texts, findings: &mut Findings) -> Self {
        let mut table = |file: File| match texts.get(file.name) {
            Some((text, torn)) => Table::read(file, text, *torn, findings),
            None => Table::default(),
        };
        Self {
            products: table(Product::FILE),
            ratios: table(NamedRatio::FILE),
            suppliers: table(Supplier::FILE),
            offers: table(Offer::FILE),
            job_types: table(JobType::FILE),
            usage_sheet: table(SheetRow::FILE),
            jobs: table(Job::FILE),
            pours: table(Pour::FILE),
            receipts: table(Receipt::FILE),
            openings: table(Opening::FILE),
            discards: table(Discard::FILE),
            mixes: table(Mix::FILE),
            counts: table(Count::FILE),
            orders: table(Order::FILE),
            order_lines: table(OrderLine::FILE),
        }
    }
}

fn facts(shop: Shop, tables: &Tables, findings: &mut Findings) -> Facts {
    let mut references = References::of(tables);
    let products = read_rows(&tables.products, &shop, &references, findings);
    references.measure_by(&products);
    let known = &references;
    Facts {
        products,
        ratios: read_rows(&tables.ratios, &shop, known, findings),
        suppliers: read_rows(&tables.suppliers, &shop, known, findings),
        offers: read_rows(&tables.offers, &shop, known, findings),
        job_types: read_rows(&tables.job_types, &shop, known, findings),
        usage_sheet: read_rows(&tables.usage_sheet, &shop, known, findings),
        jobs: read_rows(&tables.jobs, &shop, known, findings),
        pours: read_rows(&tables.pours, &shop, known, findings),
        receipts: read_rows(&tables.receipts, &shop, known, findings),
        openings: read_rows(&tables.openings, &shop, known, findings),
        discards: read_rows(&tables.discards, &shop, known, findings),
        mixes: read_rows(&tables.mixes, &shop, known, findings),
        counts: read_rows(&tables.counts, &shop, known, findings),
        orders: read_rows(&tables.orders, &shop, known, findings),
        order_lines: read_rows(&tables.order_lines, &shop, known, findings),
        shop,
    }
}
