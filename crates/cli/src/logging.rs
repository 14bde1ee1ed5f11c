//! The log, on standard error: an object on each line, or text where a person reads it.

use std::io::IsTerminal;

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
    let _ = match as_text {
        true => log.with_ansi(is_terminal).try_init(),
        false => log.json().flatten_event(true).try_init(),
    };
}
