//! The corpus of the fuzz target for the settings' file, fed to the same function.

#![allow(clippy::unwrap_used)]

use std::path::Path;

#[path = "../../../fuzz/src/settings.rs"]
mod settings;

#[test]
fn every_input_of_the_corpus_holds() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/corpus/settings");
    let mut inputs = 0;
    for entry in std::fs::read_dir(corpus).unwrap() {
        settings::settings(&std::fs::read(entry.unwrap().path()).unwrap());
        inputs += 1;
    }
    assert!(inputs > 0, "there is no input");
}
