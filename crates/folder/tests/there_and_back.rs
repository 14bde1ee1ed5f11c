//! A folder read and written again, and facts written and read again.

#![allow(clippy::unwrap_used)]

mod common;

use capful_folder::{read, read_files, to_files, write};

#[test]
fn a_folder_written_as_capful_writes_comes_back_the_same() {
    let reading = read_files(&common::folder()).unwrap();
    assert_eq!(reading.warnings, []);
    let written = to_files(&reading.facts);
    assert_eq!(written.len(), 16);
    for (name, bytes) in common::folder() {
        let again = String::from_utf8(written[&name].clone()).unwrap();
        assert_eq!(again.replace("\r\n", "\n"), String::from_utf8(bytes).unwrap(), "{name}");
    }
}

#[test]
fn a_folder_on_disk_is_written_read_and_written_over() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("shop");
    let mut facts = read_files(&common::folder()).unwrap().facts;
    write(&facts, &folder).unwrap();
    assert_eq!(read(&folder).unwrap().facts, facts);
    facts.pours.clear();
    write(&facts, &folder).unwrap();
    assert_eq!(read(&folder).unwrap().facts, facts);
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 16);
    let pours = std::fs::read_to_string(folder.join("pours.csv")).unwrap();
    assert_eq!(pours, "id,at,product,quantity,unit,job,water,container,method\r\n");
}

#[test]
fn a_write_that_fails_leaves_the_old_files() {
    let folder = tempfile::tempdir().unwrap();
    let mut facts = read_files(&common::folder()).unwrap().facts;
    write(&facts, folder.path()).unwrap();
    let old = facts.clone();
    facts.products.clear();
    std::fs::create_dir(folder.path().join(".usage_sheet.csv.new")).unwrap();
    assert!(write(&facts, folder.path()).is_err());
    let reading = read(folder.path()).unwrap();
    assert_eq!(reading.facts, old);
    let odd: Vec<_> = reading.warnings.iter().map(ToString::to_string).collect();
    assert_eq!(odd, [".usage_sheet.csv.new: unknown file, not read"]);
}
