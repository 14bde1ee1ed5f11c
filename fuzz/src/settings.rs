//! The settings' file of the program.

use std::io::Write;

use capful_cli::settings::{Flags, Settings};

/// Reads a file with these bytes: it is what a shop can be served by, or told what is wrong.
pub fn settings(data: &[u8]) {
    let Ok(mut file) = tempfile::NamedTempFile::new() else { return };
    if file.write_all(data).is_err() {
        return;
    }
    match Settings::read(Some(file.path()), &Flags::default()) {
        Ok(settings) => {
            assert!(settings.request_seconds > 0, "a service that answers nothing");
            assert!((50..=20_000).contains(&settings.futures), "a plan that says nothing");
            let _ = (settings.plan(), settings.retention());
        }
        Err(wrong) => assert!(!wrong.to_string().is_empty(), "it is refused without a reason"),
    }
}
