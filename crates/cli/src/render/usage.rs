//! What jobs take, as learned, beside what the owner's sheet says.

use capful_forecast::plan::UsageRow;

use super::numbers::share;
use super::{Column, Table, Tone, View, heading, paragraph};

/// Each job type at medium size and condition 3; a product's page has the other sizes and grades.
pub(crate) fn in_full(view: &View<'_>) -> String {
    let reference = |row: &&UsageRow| row.size == "medium" && row.condition == 3;
    let rows: Vec<&UsageRow> = view.plan.usage.iter().filter(reference).collect();
    if rows.is_empty() {
        let nothing = "Nothing is known yet of what jobs take.";
        return paragraph(view.ink, Tone::Plain, 0, nothing);
    }
    let mut text = heading(view.ink, "Usage of one job", "medium size, condition 3");
    let mut from = 0;
    while from < rows.len() {
        let same = rows[from..].iter().take_while(|row| row.job_type == rows[from].job_type);
        let to = from + same.count();
        text.push('\n');
        text.push_str(&job_type(view, &rows[from..to]));
        from = to;
    }
    text.push('\n');
    let note = "Average between: how far the average itself is known; it lies there with a chance \
                of 8 in 10. One job may take less or more. Its spread, other sizes and \
                conditions: --open and a product's id.";
    text.push_str(&paragraph(view.ink, Tone::Quiet, 0, note));
    text
}

fn job_type(view: &View<'_>, rows: &[&UsageRow]) -> String {
    let name = rows.first().map_or("", |row| view.job_type(&row.job_type));
    let mut text = heading(view.ink, name, "");
    let mut table = Table::new(&[
        Column::Flex,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["product", "average", "average between", "sheet", "in jobs", "seen"]);
    for row in rows {
        let number = |number| view.of_product(&row.product, number);
        table.row(vec![
            view.product(&row.product).into(),
            number(row.mean).into(),
            view.span_of_product(&row.product, row.mean_p10, row.mean_p90).into(),
            if row.sheet > 0.0 { number(row.sheet) } else { "–".to_owned() }.into(),
            share(row.share_of_jobs).into(),
            row.jobs_seen.to_string().into(),
        ]);
    }
    text.push_str(&table.lines(view.ink));
    text
}

/// What each job type takes of one product, by size and condition.
pub(crate) fn of_product(view: &View<'_>, product: &str) -> String {
    let rows = view.plan.usage.iter().filter(|row| row.product == product);
    let mut table = Table::new(&[
        Column::Flex,
        Column::Left,
        Column::Right,
        Column::Right,
        Column::Right,
        Column::Right,
    ]);
    table.names(&["job type", "vehicle", "average", "spread", "sheet", "seen"]);
    let mut any = false;
    for row in rows {
        any = true;
        table.row(vec![
            view.job_type(&row.job_type).into(),
            format!("{}, {}", row.size, row.condition).into(),
            view.of_product(product, row.mean).into(),
            view.of_product(product, row.sd).into(),
            if row.sheet > 0.0 { view.of_product(product, row.sheet) } else { "–".to_owned() }
                .into(),
            row.jobs_seen.to_string().into(),
        ]);
    }
    if any { table.lines(view.ink) } else { String::new() }
}
