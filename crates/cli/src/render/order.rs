//! The weekly order in full: every line with its reason and what the reason is made of.

use capful_forecast::plan::{Arrives, LineParts, OrderLine, SupplierOrder};

use super::numbers::counted;
use super::{Column, Table, Tone, View, heading, paragraph};

/// The weekly order.
pub(crate) fn in_full(view: &View<'_>) -> String {
    let weekly = &view.plan.weekly_order;
    let mut parts = Vec::new();
    if weekly.orders.is_empty() {
        let nothing = paragraph(view.ink, Tone::Plain, 0, "Nothing to order this week.");
        parts.push(nothing);
    }
    parts.extend(weekly.orders.iter().map(|order| supplier(view, order)));
    if !weekly.waiting.is_empty() {
        let mut text = heading(view.ink, "Can wait", "");
        for waiting in &weekly.waiting {
            let line = format!("{}: {}", view.supplier(&waiting.supplier), waiting.why);
            text.push_str(&paragraph(view.ink, Tone::Plain, 2, &line));
        }
        parts.push(text);
    }
    parts.join("\n")
}

fn supplier(view: &View<'_>, order: &SupplierOrder) -> String {
    let mut text = heading(view.ink, view.supplier(&order.supplier), &view.money(order.total));
    let when = format!(
        "Place it {}; {}. Goods {}, freight {}.",
        view.by(order.place_by),
        arrival(view, &order.arrives),
        order.goods,
        order.freight
    );
    text.push_str(&paragraph(view.ink, Tone::Plain, 2, &when));
    text.push_str(&paragraph(view.ink, Tone::Plain, 2, &order.why));
    for line in &order.lines {
        text.push('\n');
        text.push_str(&one_line(view, line));
    }
    text
}

/// One line of an order with its reason.
pub(crate) fn one_line(view: &View<'_>, line: &OrderLine) -> String {
    let code = line.code.as_ref().map(|code| format!(", code {code}")).unwrap_or_default();
    let packs = counted(line.packs as usize, "pack", "packs");
    let what = format!(
        "{} of {} ({}{code}), {}",
        packs,
        view.product(&line.product),
        line.product,
        view.money(line.cost)
    );
    let mut text = paragraph(view.ink, Tone::Heading, 2, &what);
    text.push_str(&paragraph(view.ink, Tone::Plain, 4, &line.why));
    text.push_str(&sum(view, &line.parts));
    if !line.expected_waste.is_zero() {
        let waste = format!("{} of it is expected to go off.", view.money(line.expected_waste));
        text.push_str(&paragraph(view.ink, Tone::Plain, 4, &waste));
    }
    text
}

/// The sum behind a reason, from what jobs take to the packs, so that it can be followed.
fn sum(view: &View<'_>, parts: &LineParts) -> String {
    let rows = parts.sum();
    let mut table = Table::new(&[Column::Left, Column::Right, Column::Left]).indented(4);
    for (row, (sign, amount)) in rows.iter().zip(view.sum(&rows)) {
        table.row(vec![sign.into(), amount.into(), part(view, parts, row.part).into()]);
    }
    table.lines(view.ink)
}

/// What a part of a line is.
fn part(view: &View<'_>, parts: &LineParts, name: &str) -> String {
    match name {
        "booked" => {
            let jobs = parts.booked_jobs as usize;
            let take = counted(jobs, "booked job takes", "booked jobs take");
            format!("{take} before {}", view.day(parts.to))
        }
        "not_booked" => {
            format!("jobs not booked yet take ({} a day in all)", view.amount(parts.a_day()))
        }
        "lead_time" => "as a delivery may come earlier or later".to_owned(),
        "safety" => "to be ready for more than the average".to_owned(),
        "reorder_point" => "the reorder point".to_owned(),
        "to_last" => format!("for this order to last until {}", view.day(parts.up_to_day)),
        "order_up_to" => "to order up to".to_owned(),
        "goes_off" => "goes off before that".to_owned(),
        "on_hand" => "on the shelf".to_owned(),
        "on_order" => "on its way".to_owned(),
        "missing" if parts.missing.amount < 0.0 => "missing: more than that is there".to_owned(),
        "missing" => "missing".to_owned(),
        "beyond" if parts.beyond.amount < 0.0 => {
            "less: whole packs, the number that costs least".to_owned()
        }
        "beyond" => "more: whole packs, the number that costs least".to_owned(),
        _ => "in this order".to_owned(),
    }
}

/// When an order is here: `here Fri 6 Mar (9 in 10 by Mon 9 Mar)`.
fn arrival(view: &View<'_>, arrives: &Arrives) -> String {
    if arrives.p50 == arrives.p90 {
        return format!("here {}", view.day(arrives.p50));
    }
    format!("here {} (9 in 10 by {})", view.day(arrives.p50), view.day(arrives.p90))
}
