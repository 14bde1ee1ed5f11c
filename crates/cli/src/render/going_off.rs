//! What goes off, in full: every container near its end and what to do with it.

use capful_forecast::plan::GoingOff;

use super::numbers::counted;
use super::{Tone, View, heading, paragraph};

/// Every container that is going off.
pub(crate) fn in_full(view: &View<'_>) -> String {
    let all = &view.plan.going_off;
    if all.is_empty() {
        return paragraph(view.ink, Tone::Plain, 0, "Nothing is going off.");
    }
    let total = all.iter().map(|one| one.waste_cost).sum();
    let title = heading(view.ink, "Going off", &view.money(total));
    let each = all.iter().map(|one| container(view, one));
    std::iter::once(title).chain(each).collect::<Vec<_>>().join("\n")
}

/// One container.
pub(crate) fn container(view: &View<'_>, one: &GoingOff) -> String {
    let mix = one.water.map(|water| format!(", mix {water}:1")).unwrap_or_default();
    let name = view.product(&one.product);
    let what = format!("{name}{mix}, {} ({})", one.container, one.product);
    let mut text = paragraph(view.ink, Tone::Heading, 2, &what);
    let days = usize::try_from(one.days_left.abs()).unwrap_or(0);
    let days = counted(days, "day", "days");
    let end = if one.days_left < 0 {
        format!("{days} past its use-by, {}", view.day(one.use_by))
    } else {
        format!("use by {}, {days} left", view.day(one.use_by))
    };
    let state = format!(
        "Lot {}, {}, {} left; {end}. Expected to waste: {}, {}.",
        one.lot,
        one.state,
        view.fine(one.left),
        view.fine(one.expected_waste),
        view.money_or_dash(one.waste_cost)
    );
    let tone = if one.days_left < 0 { Tone::Alarm } else { Tone::Plain };
    text.push_str(&paragraph(view.ink, tone, 4, &state));
    text.push_str(&paragraph(view.ink, Tone::Plain, 4, &one.advice));
    text
}
