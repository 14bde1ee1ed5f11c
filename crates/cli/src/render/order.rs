//! The weekly order in full: every line with its reason and what the reason is made of.

use capful_forecast::plan::{AmountIn, Arrives, LineParts, OrderLine, SupplierOrder};

use super::numbers::counted;
use super::{Cell, Column, Table, Tone, View, heading, paragraph};

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

/// The sum behind a reason, so that it can be followed.
fn sum(view: &View<'_>, parts: &LineParts) -> String {
    let jobs = counted(parts.booked_jobs as usize, "booked job takes", "booked jobs take");
    let there = parts.on_hand.amount + parts.on_order.amount + parts.bought.amount;
    let there = AmountIn { amount: there, ..parts.on_hand };
    let rows = [
        ("", parts.booked, format!("{jobs} before {}", view.day(parts.to))),
        ("+", parts.not_booked, "jobs not booked yet take".to_owned()),
        ("+", parts.safety, "to be ready for more than the average".to_owned()),
        ("=", parts.reorder_point, "the reorder point".to_owned()),
        ("", parts.on_hand, "on the shelf".to_owned()),
        ("+", parts.on_order, "on its way".to_owned()),
        ("+", parts.bought, "in this order".to_owned()),
        ("=", there, format!("then, to last until {}", view.day(parts.up_to_day))),
        ("", parts.order_up_to, "the most that jobs may take by then".to_owned()),
    ];
    let amounts = view.summands(&rows.each_ref().map(|(_, amount, _)| *amount));
    let mut table = Table::new(&[Column::Left, Column::Right, Column::Left]).indented(4);
    for ((sign, _, what), amount) in rows.into_iter().zip(amounts) {
        table.row(vec![Cell::from(sign), amount.into(), what.into()]);
    }
    table.lines(view.ink)
}

/// When an order is here: `here Fri 6 Mar (9 in 10 by Mon 9 Mar)`.
fn arrival(view: &View<'_>, arrives: &Arrives) -> String {
    if arrives.p50 == arrives.p90 {
        return format!("here {}", view.day(arrives.p50));
    }
    format!("here {} (9 in 10 by {})", view.day(arrives.p50), view.day(arrives.p90))
}
