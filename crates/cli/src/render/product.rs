//! The products: all in a table, one in full.

use capful_forecast::plan::{Demand, ProductOutlook};

use super::{
    Column, Table, Tone, View, bullet, going_off, heading, numbers, order, paragraph, usage,
};

/// Every product in a line.
pub(crate) fn all(view: &View<'_>) -> String {
    let Some(first) = view.plan.products.first() else {
        return paragraph(view.ink, Tone::Plain, 0, "The shop has no products yet.");
    };
    let until = format!("demand until {}", view.day(first.demand.to));
    let mut text = heading(view.ink, "Products", &until);
    let mut table = Table::new(&[
        Column::Flex,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["product", "left", "coming", "demand", "lasts", "order at", "up to"]);
    for one in &view.plan.products {
        table.row(vec![
            view.product(&one.product).into(),
            view.amount_or_dash(one.on_hand).into(),
            view.amount_or_dash(one.on_order).into(),
            view.of_product(&one.product, one.demand.mean).into(),
            days(one).into(),
            view.amount_or_dash(one.reorder_point).into(),
            view.amount_or_dash(one.order_up_to).into(),
        ]);
    }
    text.push_str(&table.lines(view.ink));
    text
}

fn days(one: &ProductOutlook) -> String {
    let over = if one.cover_is_at_least { ">" } else { "" };
    format!("{over}{} d", one.cover_days.p50)
}

/// How long it lasts: `9 days (8 in 10: 6 to 13)`, `40 days (8 in 10: 22 to over 92)`. The planner
/// looks no further than its horizon.
fn lasts(one: &ProductOutlook) -> String {
    let end = |days: u32| {
        let over = if days >= one.horizon_days { "over " } else { "" };
        format!("{over}{days}")
    };
    let cover = &one.cover_days;
    if cover.p10 >= one.horizon_days {
        return format!("{} days", end(cover.p10));
    }
    let [low, middle, high] = [cover.p10, cover.p50, cover.p90].map(end);
    format!("{middle} days (8 in 10: {low} to {high})")
}

/// One product; `None` where none is called `id`.
pub(crate) fn in_full(view: &View<'_>, id: &str) -> Option<String> {
    let one = view.plan.products.iter().find(|product| product.product == id)?;
    let mut parts = vec![shelf(view, one), demand(view, one)];
    let lines = view.plan.weekly_order.orders.iter().flat_map(|order| &order.lines);
    parts.extend(lines.filter(|line| line.product == id).map(|line| {
        format!("{}{}", heading(view.ink, "To order", ""), order::one_line(view, line))
    }));
    let going = view.plan.going_off.iter().filter(|container| container.product == id);
    let going: String = going.map(|container| going_off::container(view, container)).collect();
    if !going.is_empty() {
        parts.push(format!("{}{going}", heading(view.ink, "Going off", "")));
    }
    let usage = usage::of_product(view, id);
    if !usage.is_empty() {
        parts.push(format!("{}{usage}", heading(view.ink, "Usage of one job", "")));
    }
    let about = view.plan.warnings.iter().filter(|w| w.product.as_deref() == Some(id));
    let about: String = about.map(|w| bullet(&w.text)).collect();
    if !about.is_empty() {
        parts.push(format!("{}{about}", heading(view.ink, "Know", "")));
    }
    Some(parts.join("\n"))
}

fn shelf(view: &View<'_>, one: &ProductOutlook) -> String {
    let mut text = heading(view.ink, view.product(&one.product), &one.product);
    let mut table = Table::new(&[Column::Left, Column::Left]);
    let mut row = |name: &str, value: String| table.row(vec![name.into(), value.into()]);
    row("on the shelf", view.fine(one.on_hand));
    if one.past_use_by.amount > 0.0 {
        row("past its use-by", view.fine(one.past_use_by));
    }
    row("on its way", view.fine(one.on_order));
    row("lasts", lasts(one));
    row("order at", view.fine(one.reorder_point));
    row("order up to", view.fine(one.order_up_to));
    let lead = &one.lead_days;
    row("lead time", format!("{:.1} days on average, 9 in 10 within {:.0}", lead.mean, lead.p90));
    text.push_str(&table.lines(view.ink));
    text
}

fn demand(view: &View<'_>, one: &ProductOutlook) -> String {
    let mut text = heading(view.ink, "Demand", "");
    let mut table = Table::new(&[
        Column::Left,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["until", "mean", "1 in 10 below", "half below", "9 in 10", "19 in 20"]);
    let mut spans: Vec<&Demand> = std::iter::once(&one.demand).chain(&one.demand_ahead).collect();
    spans.sort_by_key(|span| span.to);
    spans.dedup_by_key(|span| span.to);
    for span in spans {
        let number = |number| view.of_product(&one.product, number);
        table.row(vec![
            numbers::day(span.to, view.plan.as_of).into(),
            number(span.mean).into(),
            number(span.p10).into(),
            number(span.p50).into(),
            number(span.p90).into(),
            number(span.p95).into(),
        ]);
    }
    text.push_str(&table.lines(view.ink));
    text
}
