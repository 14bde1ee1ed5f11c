//! Drawings: a container as it stands, filled to what is left; its time as a line towards its
//! use-by; doubt as width. Their colours come from the stylesheet. Pictures with axes are those of
//! `capful_pictures`.

use capful_domain::{Container, ContainerState, Product, Quantity};
use chrono::NaiveDate;

use super::amounts::thousandths;

/// How near its end a container is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Near {
    /// There is time.
    Fresh,
    /// A fortnight, or less.
    Soon,
    /// Past its use-by.
    Past,
}

impl Near {
    /// Of a container on a day.
    pub(crate) fn of(container: &Container, product: &Product, day: NaiveDate) -> Self {
        match container.use_by(product).map(|use_by| (use_by - day).num_days()) {
            Some(days) if days < 0 => Self::Past,
            Some(days) if days <= 14 => Self::Soon,
            _ => Self::Fresh,
        }
    }

    /// Its word in the stylesheet.
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Fresh => "fresh",
            Self::Soon => "soon",
            Self::Past => "past",
        }
    }
}

/// A container: its shoulder open or sealed, filled to what is left. `label` says the same to who
/// cannot see it.
pub(crate) fn container(
    container: &Container,
    product: &Product,
    day: NaiveDate,
    label: &str,
) -> String {
    let filled = thousandths(container.left, container.size);
    let is_open = container.state() == ContainerState::Open;
    vessel(filled, is_open, Near::of(container, product, day), label)
}

/// A vessel, filled to so many thousandths.
pub(crate) fn vessel(filled: u32, is_open: bool, near: Near, label: &str) -> String {
    // The body stands from 16 to 60; what is left fills it from below.
    let height = filled.min(1000) * 44 / 1000;
    let top = 60 - height;
    let cap = match is_open {
        true => "<path class=\"cap\" d=\"M24 3l9 4-1 4-9-4z\"/>",
        false => "<rect class=\"cap\" x=\"13\" y=\"2\" width=\"14\" height=\"7\" rx=\"1.5\"/>",
    };
    let label = escaped(label);
    let class = near.class();
    format!(
        "<svg class=\"vessel {class}\" viewBox=\"0 0 40 64\" role=\"img\" aria-label=\"{label}\">\
         <path class=\"glass\" \
         d=\"M15 10h10v4c6 2 9 5 9 10v32q0 5-5 5H11q-5 0-5-5V24c0-5 3-8 9-10z\"/>\
         <rect class=\"fill\" x=\"4\" y=\"{top}\" width=\"32\" height=\"{height}\" \
         clip-path=\"url(#glass)\"/>{cap}</svg>"
    )
}

/// Time as a line: from when it was opened, or came, to its use-by, and where today stands on it.
pub(crate) fn life(began: NaiveDate, use_by: NaiveDate, day: NaiveDate, label: &str) -> String {
    let whole = (use_by - began).num_days().max(1);
    let gone = ((day - began).num_days() * 1000 / whole).clamp(0, 1000);
    let near = match (use_by - day).num_days() {
        days if days < 0 => Near::Past,
        days if days <= 14 => Near::Soon,
        _ => Near::Fresh,
    };
    let (x, class, label) = (2 + gone * 196 / 1000, near.class(), escaped(label));
    format!(
        "<svg class=\"life {class}\" viewBox=\"0 0 200 14\" role=\"img\" aria-label=\"{label}\">\
         <path class=\"rest\" d=\"M2 7H198\"/><path class=\"gone\" d=\"M2 7H{x}\"/>\
         <path class=\"end\" d=\"M198 2v10\"/>\
         <circle class=\"now\" cx=\"{x}\" cy=\"7\" r=\"4.5\"/></svg>"
    )
}

/// A chance as a bar: what is sure is solid, what is in doubt is open.
pub(crate) fn chance(share: f64, label: &str) -> String {
    let class = if share >= 0.95 {
        "fresh"
    } else if share >= 0.7 {
        "soon"
    } else {
        "past"
    };
    bar(share, class, label)
}

/// A share of a whole, as a bar.
pub(crate) fn part(share: f64, label: &str) -> String {
    bar(share, "fresh", label)
}

fn bar(share: f64, class: &str, label: &str) -> String {
    let sure = (share.clamp(0.0, 1.0) * 196.0).round();
    let label = escaped(label);
    format!(
        "<svg class=\"chance {class}\" viewBox=\"0 0 200 10\" role=\"img\" aria-label=\"{label}\">\
         <rect class=\"doubt\" x=\"2\" y=\"1.5\" width=\"196\" height=\"7\" rx=\"3.5\"/>\
         <rect class=\"sure\" x=\"2\" y=\"1.5\" width=\"{sure}\" height=\"7\" rx=\"3.5\"/></svg>"
    )
}

/// A chance that grows: solid what it is without, lighter what is gained, open what stays in doubt.
pub(crate) fn gain(without: f64, with: f64, label: &str) -> String {
    let wide = |share: f64| (share.clamp(0.0, 1.0) * 196.0).round();
    let (sure, gained) = (wide(without), wide(with.max(without)));
    let label = escaped(label);
    format!(
        "<svg class=\"chance\" viewBox=\"0 0 200 10\" role=\"img\" aria-label=\"{label}\">\
         <rect class=\"doubt\" x=\"2\" y=\"1.5\" width=\"196\" height=\"7\" rx=\"3.5\"/>\
         <rect class=\"gained\" x=\"2\" y=\"1.5\" width=\"{gained}\" height=\"7\" rx=\"3.5\"/>\
         <rect class=\"sure\" x=\"2\" y=\"1.5\" width=\"{sure}\" height=\"7\" rx=\"3.5\"/></svg>"
    )
}

/// When an order comes: a line over `whole` days from today on, marked where it is placed, and as
/// wide as its coming is in doubt. `days` are placing, half a chance and nine in ten.
pub(crate) fn arrival(days: [i64; 3], whole: i64, label: &str) -> String {
    let x = |day: i64| 6 + 188 * day.clamp(0, whole) / whole.max(1);
    let [place, early, late] = days.map(x);
    let (wide, label) = ((late - early).max(6), escaped(label));
    format!(
        "<svg class=\"arrival\" viewBox=\"0 0 200 14\" role=\"img\" aria-label=\"{label}\">\
         <path class=\"rest\" d=\"M2 7H198\"/><path class=\"way\" d=\"M{place} 7H{early}\"/>\
         <rect class=\"span\" x=\"{early}\" y=\"2\" width=\"{wide}\" height=\"10\" rx=\"2\"/>\
         <circle class=\"now\" cx=\"{place}\" cy=\"7\" r=\"4.5\"/></svg>"
    )
}

/// What is known of an amount, beside what a sheet says of it: the width of the bar is the doubt,
/// the line in the middle the sheet. All three are shares of the sheet, from a third of it at the
/// left end to three times at the right, so that many stand on one scale.
pub(crate) fn spread(low: f64, mean: f64, high: f64, label: &str) -> String {
    let x =
        |share: f64| (100.0 + 96.0 * (share.max(1e-9).ln() / 3f64.ln()).clamp(-1.0, 1.0)).round();
    let (from, to, at) = (x(low), x(high), x(mean));
    let class = if low <= 1.0 && 1.0 <= high { "fresh" } else { "soon" };
    let (width, label) = ((to - from).max(2.0), escaped(label));
    format!(
        "<svg class=\"spread {class}\" viewBox=\"0 0 200 16\" role=\"img\" aria-label=\"{label}\">\
         <path class=\"rest\" d=\"M4 8H196\"/>\
         <rect class=\"sure\" x=\"{from}\" y=\"3\" width=\"{width}\" height=\"10\" rx=\"3\"/>\
         <path class=\"sheet\" d=\"M100 0v16\"/>\
         <circle class=\"now\" cx=\"{at}\" cy=\"8\" r=\"3\"/></svg>"
    )
}

/// What was taken as a bar, and a line at what was expected.
pub(crate) fn against(took: Quantity, expected: Quantity, label: &str) -> String {
    // The longer of the two reaches almost to the end.
    let whole = if took > expected { took } else { expected };
    let x = |part| 4 + thousandths(part, whole) * 180 / 1000;
    let (width, at, label) = (x(took) - 4, x(expected), escaped(label));
    format!(
        "<svg class=\"spread fresh\" viewBox=\"0 0 200 16\" role=\"img\" aria-label=\"{label}\">\
         <path class=\"rest\" d=\"M4 8H196\"/>\
         <rect class=\"sure\" x=\"4\" y=\"3\" width=\"{width}\" height=\"10\" rx=\"3\"/>\
         <path class=\"sheet\" d=\"M{at} 0v16\"/></svg>"
    )
}

/// A text within an attribute.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_vessel_is_filled_to_what_is_left() {
        let half = vessel(500, true, Near::Fresh, "half \"full\"");
        assert!(half.contains("y=\"38\" width=\"32\" height=\"22\""), "{half}");
        assert!(half.contains("half &quot;full&quot;"));
        assert!(vessel(0, false, Near::Past, "").contains("height=\"0\""));
    }

    #[test]
    fn what_is_in_doubt_is_wide() {
        let drawn = arrival([0, 5, 10], 10, "");
        assert!(drawn.contains("x=\"100\" y=\"2\" width=\"94\""), "{drawn}");
        // A day that is sure is still seen.
        assert!(arrival([0, 5, 5], 10, "").contains("width=\"6\""));
        let grown = gain(0.5, 0.75, "");
        assert!(grown.contains("class=\"sure\" x=\"2\" y=\"1.5\" width=\"98\""), "{grown}");
        assert!(grown.contains("class=\"gained\" x=\"2\" y=\"1.5\" width=\"147\""), "{grown}");
    }

    #[test]
    fn time_stands_between_its_ends() {
        let day = |d| NaiveDate::from_ymd_opt(2026, 3, d).unwrap_or_default();
        assert!(life(day(1), day(11), day(6), "").contains("cx=\"100\""));
        assert!(life(day(1), day(11), day(20), "").contains("life past"));
    }

    #[test]
    fn doubt_is_drawn_as_width_around_the_sheet() {
        let near = spread(0.9, 1.0, 1.1, "");
        assert!(near.contains("spread fresh") && near.contains("cx=\"100\""), "{near}");
        // A third of the sheet, and all that is less, is the left end.
        assert!(spread(0.01, 1.0 / 3.0, 0.5, "").contains("spread soon"));
        assert!(spread(0.01, 1.0 / 3.0, 0.5, "").contains("x=\"4\""));
    }
}
