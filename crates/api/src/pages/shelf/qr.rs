//! A code that a phone's camera reads, as one line of drawing.

use std::fmt::Write as _;

use qrcode::{Color, QrCode};

/// Empty modules around a code, as its standard (ISO/IEC 18004) asks for.
const QUIET: usize = 4;

/// The code of a text, a stroke for each run of dark modules; empty where the text is too long for
/// one. `label` says where it leads.
pub(super) fn drawn(text: &str, label: &str) -> String {
    let Ok(code) = QrCode::new(text.as_bytes()) else { return String::new() };
    let (width, colors) = (code.width(), code.to_colors());
    let mut path = String::new();
    for (row, line) in colors.chunks(width.max(1)).enumerate() {
        let y = row + QUIET;
        let mut column = 0;
        for run in line.chunk_by(|a, b| a == b) {
            if run.first() == Some(&Color::Dark) {
                let _ = write!(path, "M{} {y}h{}", column + QUIET, run.len());
            }
            column += run.len();
        }
    }
    let (side, label) = (width + 2 * QUIET, label.replace('&', "&amp;").replace('"', "&quot;"));
    format!(
        "<svg class=\"qr\" viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"{label}\">\
         <path stroke=\"#000\" transform=\"translate(0 .5)\" d=\"{path}\"/></svg>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_begins_with_its_finder_and_keeps_quiet_around() {
        let code = drawn("http://shop.example/containers/R-0412/1", "R-0412/1");
        // Seven dark modules in the first corner: the finder pattern of every such code.
        assert!(code.contains("d=\"M4 4h7M"), "{code}");
        // Version 3 is 29 modules wide, and 4 empty ones stand on either side.
        assert!(code.contains("viewBox=\"0 0 37 37\""), "{code}");
        assert!(code.len() < 3000, "{}", code.len());
    }

    #[test]
    fn what_no_code_can_hold_is_not_drawn() {
        assert_eq!(drawn(&"x".repeat(3000), ""), "");
    }
}
