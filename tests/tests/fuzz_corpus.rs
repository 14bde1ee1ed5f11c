//! The committed corpora of the fuzz targets, fed to the same functions: what a fuzz run once found
//! stays mended.

#![allow(clippy::unwrap_used, dead_code)] // the fuzz targets' own files are taken in as they are

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

#[path = "../../fuzz/src/cells.rs"]
mod cells;
#[path = "../../fuzz/src/folder.rs"]
mod folder;
#[path = "../../fuzz/src/service.rs"]
mod service;

/// What is fed with a corpus: a function of bytes.
type Target = fn(&[u8]);

/// The targets. That of the settings is run beside them, in the crate that reads these.
const TARGETS: [(&str, Target); 11] = [
    ("archive", service::archive),
    ("authorization", service::authorization),
    ("cells", cells::cells),
    ("cookie", service::cookie),
    ("csv", folder::csv),
    ("etag", service::etag),
    ("folder", folder::folder),
    ("form", service::form),
    ("json_body", service::json_body),
    ("query", service::query),
    ("shop_toml", folder::shop_toml),
];

fn fuzz() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz")
}

fn names(folder: &str) -> BTreeSet<String> {
    let entries = std::fs::read_dir(fuzz().join(folder)).unwrap();
    let name = |path: PathBuf| path.file_stem().unwrap().to_str().unwrap().to_owned();
    entries.map(|entry| name(entry.unwrap().path())).collect()
}

#[test]
fn every_target_has_a_corpus_and_is_run_here() {
    let mut run: BTreeSet<String> = TARGETS.iter().map(|(name, _)| (*name).to_owned()).collect();
    run.insert("settings".to_owned());
    assert_eq!(names("fuzz_targets"), run);
    assert_eq!(names("corpus"), run);
}

#[test]
fn every_input_of_the_corpora_holds() {
    for (name, target) in TARGETS {
        let mut inputs = 0;
        for entry in std::fs::read_dir(fuzz().join("corpus").join(name)).unwrap() {
            let path = entry.unwrap().path();
            let data = std::fs::read(&path).unwrap();
            let held = std::panic::catch_unwind(|| target(&data));
            assert!(held.is_ok(), "{} breaks {name}", path.display());
            inputs += 1;
        }
        assert!(inputs > 0, "{name} has no input");
    }
}
