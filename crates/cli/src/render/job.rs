//! One job in full: whether the shelf carries it, and what to put on the bench.

use super::numbers::chance;
use super::{Column, Table, Tone, View, heading, lack, paragraph};

/// A booked job; `None` where none to come is called `id`.
pub(crate) fn in_full(view: &View<'_>, id: &str) -> Option<String> {
    let job = view.plan.readiness.iter().find(|job| job.job == id)?;
    let mut text =
        heading(view.ink, &format!("{id}, {}", view.work(id)), &view.day(job.planned_on));
    text.push_str(&paragraph(view.ink, Tone::Plain, 2, &view.vehicle(id)));
    let ready = format!("The shelf carries it with a chance of {}.", chance(job.ready_chance));
    text.push_str(&paragraph(view.ink, View::ready_tone(job.ready_chance), 2, &ready));
    if !job.short_of.is_empty() {
        text.push('\n');
        text.push_str(&heading(view.ink, "May be short of", ""));
        let mut table = Table::new(&[Column::Flex, Column::Right, Column::Right, Column::Flex]);
        table.names(&["product", "chance", "missing", "instead"]);
        for short in &job.short_of {
            table.row(vec![
                view.product(&short.product).into(),
                chance(short.chance).into(),
                view.fine(short.missing).into(),
                short.substitute.as_ref().map_or("–", |s| view.product(s)).into(),
            ]);
            table.block(lack::sum(view, &short.parts, 4));
        }
        text.push_str(&table.lines(view.ink));
        text.push_str(&lack::split(view, job, 2));
    }
    if !job.set_out.is_empty() {
        text.push('\n');
        text.push_str(&heading(view.ink, "Set out", ""));
        text.push_str(&set_out(view, &job.set_out));
    }
    Some(text)
}

fn set_out(view: &View<'_>, bench: &[capful_forecast::plan::SetOut]) -> String {
    let mut table =
        Table::new(&[Column::Flex, Column::Left, Column::Right, Column::Right, Column::Right]);
    table.names(&["product", "container", "expect", "up to", "ratio"]);
    for one in bench {
        table.row(vec![
            view.product(&one.product).into(),
            one.container.as_str().into(),
            view.on_bench(one.expect).into(),
            view.on_bench(one.up_to).into(),
            one.water.map_or_else(|| "–".to_owned(), |water| format!("{water}:1")).into(),
        ]);
    }
    let mut text = table.lines(view.ink);
    let note = "Quantities are product as bought, before water. Read the safety data sheet first.";
    text.push_str(&paragraph(view.ink, Tone::Quiet, 2, note));
    text
}
