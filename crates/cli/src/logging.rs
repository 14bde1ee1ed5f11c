//! The log, on standard error: an object on each line, or text where a person reads it.

use std::io::IsTerminal;
use std::panic::PanicHookInfo;

use tracing_subscriber::EnvFilter;

use crate::settings::{LogFormat, Settings};

/// Says at every start that there is nothing to do.
const QUIET: &str = "sea_orm_migration=warn";

/// Begins to log. Where something logs already, it goes on as it does.
pub(crate) fn begin(settings: &Settings) {
    let level = format!("{QUIET},{}", settings.log_level);
    let filter = EnvFilter::try_new(level).unwrap_or_else(|_| EnvFilter::new("info"));
    let is_terminal = std::io::stderr().is_terminal();
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    let as_text = match settings.log_format {
        LogFormat::Auto => is_terminal,
        LogFormat::Json => false,
        LogFormat::Text => true,
    };
    // A second log is refused, and the first is kept.
    let begun = match as_text {
        true => log.with_ansi(is_terminal).try_init(),
        false => log.json().flatten_event(true).try_init(),
    };
    if begun.is_ok() {
        std::panic::set_hook(Box::new(panicked));
    }
}

/// Logs a panic like everything else: what Rust would write by itself is no line of this log.
fn panicked(panic: &PanicHookInfo<'_>) {
    let message = panic.payload_as_str().unwrap_or("no words");
    let place = panic.location().map(ToString::to_string).unwrap_or_default();
    tracing::error!(panic = message, place, "a panic");
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    #[derive(Clone, Default)]
    struct Lines(Arc<Mutex<Vec<u8>>>);

    impl Write for Lines {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_panic_is_a_line_of_the_log() {
        let lines = Lines::default();
        let writer = lines.clone();
        let log = tracing_subscriber::fmt().json().flatten_event(true);
        let log = log.with_writer(move || writer.clone()).finish();
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(panicked));
        tracing::subscriber::with_default(log, || {
            let _ = std::panic::catch_unwind(|| panic!("the bucket\nfell over"));
        });
        std::panic::set_hook(before);
        let text = String::from_utf8(lines.0.lock().unwrap().clone()).unwrap();
        let line: serde_json::Value = serde_json::from_str(text.trim_end()).unwrap();
        assert_eq!(
            (&line["level"], &line["panic"]),
            (&"ERROR".into(), &"the bucket\nfell over".into())
        );
        assert!(line["place"].as_str().unwrap().contains("logging.rs:"), "{line}");
    }
}
