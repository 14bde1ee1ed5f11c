//! A shop folder: its CSV files and its settings.

use std::collections::BTreeMap;

use capful_domain::Facts;
use capful_folder::{MOST_LISTED, merge, read_files, to_files};

type Files = BTreeMap<String, Vec<u8>>;

/// Stands before the name of each file in one text of several.
const MARK: &[u8] = b"== ";

/// A small shop that other files are put into.
const SHOP: &[u8] = include_bytes!("../corpus/folder/small-shop");

/// Several files: each is begun by a line of `== ` and its name.
pub fn folder(data: &[u8]) {
    holds(&split(data));
}

/// One CSV file of an otherwise sound shop: its name on the first line.
pub fn csv(data: &[u8]) {
    let mut files = split(SHOP);
    let end = data.iter().position(|byte| *byte == b'\n').unwrap_or(data.len());
    let name = String::from_utf8_lossy(&data[..end]).into_owned();
    files.insert(name, data.get(end + 1..).unwrap_or_default().to_vec());
    holds(&files);
}

/// The settings alone.
pub fn shop_toml(data: &[u8]) {
    holds(&Files::from([("shop.toml".to_owned(), data.to_vec())]));
}

fn split(data: &[u8]) -> Files {
    let mut files = Files::new();
    let mut name = String::new();
    for line in data.split_inclusive(|byte| *byte == b'\n') {
        match line.strip_prefix(MARK) {
            Some(rest) => name = String::from_utf8_lossy(rest).trim().to_owned(),
            None => files.entry(name.clone()).or_default().extend_from_slice(line),
        }
    }
    files
}

/// Reads the files: either everything is said that is wrong, shortly, or what was read is written
/// and read again as the same, and merging it with itself adds nothing.
fn holds(files: &Files) {
    match read_files(files) {
        Ok(read) => {
            assert!(read.warnings.len() <= MOST_LISTED, "too many oddities are listed");
            let again = read_files(&to_files(&read.facts)).map(|again| again.facts);
            assert_eq!(again.as_ref(), Ok(&read.facts), "it is read as another than was written");
            let taken = merge(&Facts::new(read.facts.shop.clone()), read.facts.clone());
            assert!(taken.is_ok(), "a shop with nothing does not take it over");
            let added = merge(&read.facts, read.facts.clone()).map(|(_, added)| added.total());
            assert_eq!(added, Ok(0), "taken over again it is something new");
        }
        Err(errors) => {
            assert!(!errors.problems.is_empty(), "it is refused without a reason");
            assert!(errors.problems.len() <= MOST_LISTED, "too many problems are listed");
            for problem in &errors.problems {
                assert!(!problem.to_string().contains('\n'), "a problem has lines: {problem}");
            }
        }
    }
}
