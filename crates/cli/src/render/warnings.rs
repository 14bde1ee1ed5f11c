//! The warnings in full.

use super::{Tone, View, bullet, heading, paragraph};

/// Every warning.
pub(crate) fn in_full(view: &View<'_>) -> String {
    let all = &view.plan.warnings;
    if all.is_empty() {
        return paragraph(view.ink, Tone::Plain, 0, "There is nothing to warn of.");
    }
    let mut text = heading(view.ink, "Know before relying on this plan", "");
    for warning in all {
        let product = warning.product.as_ref().map(|p| format!(" ({p})")).unwrap_or_default();
        text.push_str(&bullet(&format!("{}{product}", warning.text)));
    }
    text
}
