//! The settings' file: what is set in it, and on which line.

use std::path::Path;

use toml::de::DeTable;

/// A setting that was given somewhere.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Given {
    /// Its name.
    pub key: String,
    /// What it was set to.
    pub value: toml::Value,
    /// Where: a file and its line, or a variable of the environment.
    pub place: String,
}

/// Everything that a file sets, in its order.
///
/// # Errors
/// Why it cannot be read, with the place.
pub(crate) fn read(file: &Path) -> Result<Vec<Given>, String> {
    let name = file.display();
    let text = std::fs::read_to_string(file).map_err(|error| format!("{name}: {error}"))?;
    let line = |at: usize| text.get(..at).unwrap_or_default().matches('\n').count() + 1;
    let unreadable = |error: toml::de::Error| {
        let message = error.message().lines().collect::<Vec<_>>().join(", ");
        format!("{name}:{}: {message}", line(error.span().map_or(0, |span| span.start)))
    };
    let keys = DeTable::parse(&text).map_err(unreadable)?.into_inner();
    let mut values = text.parse::<toml::Table>().map_err(unreadable)?;
    let given = keys.keys().filter_map(|key| {
        let value = values.remove(key.get_ref().as_ref())?;
        let place = format!("{name}:{}", line(key.span().start));
        Some(Given { key: key.get_ref().to_string(), value, place })
    });
    Ok(given.collect())
}
