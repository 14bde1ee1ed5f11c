//! A plan in writing: the same bytes wherever it is asked for.

use serde::Serialize;

/// A plan, a part of it, or whatever else is told beside it, as JSON that ends with a line.
///
/// # Errors
/// What `serde_json` fails with, which no plan is known to cause.
pub fn to_json(value: &impl Serialize) -> Result<String, serde_json::Error> {
    let mut text = serde_json::to_string_pretty(value)?;
    text.push('\n');
    Ok(text)
}
