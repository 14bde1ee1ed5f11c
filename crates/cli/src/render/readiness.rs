//! Readiness in full: every booked job and what it may lack.

use capful_forecast::plan::JobReadiness;

use super::numbers::chance;
use super::{Cell, Column, Table, Tone, View, heading, lack, paragraph};

/// A job's own page has the lesser chances too.
const WORTH_SAYING: f64 = 0.02;

/// Every booked job.
pub(crate) fn in_full(view: &View<'_>) -> String {
    let all = &view.plan.readiness;
    if all.is_empty() {
        return paragraph(view.ink, Tone::Plain, 0, "No jobs are booked.");
    }
    let mut text = heading(view.ink, "Readiness", "");
    let mut table = Table::new(&[Column::Left, Column::Left, Column::Flex, Column::Right]);
    table.names(&["day", "job", "work", "ready"]);
    for job in all {
        let work = format!("{} ({})", view.work(&job.job), view.vehicle(&job.job));
        table.row(vec![
            view.day(job.planned_on).into(),
            job.job.as_str().into(),
            work.into(),
            Cell::new(View::ready_tone(job.ready_chance), chance(job.ready_chance)),
        ]);
        table.block(lacks(view, job));
    }
    text.push_str(&table.lines(view.ink));
    text
}

/// What a job may lack, and what each of that is made of.
fn lacks(view: &View<'_>, job: &JobReadiness) -> String {
    let mut text = String::new();
    for short in job.short_of.iter().filter(|short| short.chance >= WORTH_SAYING) {
        let instead = short.substitute.as_ref().map(|s| format!("; {} would do", view.product(s)));
        let line = format!(
            "{} short of {}, by {} then{}",
            chance(short.chance),
            view.product(&short.product),
            view.fine(short.missing),
            instead.unwrap_or_default()
        );
        text.push_str(&paragraph(view.ink, Tone::Plain, 4, &line));
        text.push_str(&lack::sum(view, &short.parts, 6));
    }
    if !text.is_empty() {
        text.push_str(&lack::split(view, job, 4));
    }
    text
}

/// What a job may lack, in a few words; nothing where it is surely ready.
pub(crate) fn short_of(view: &View<'_>, job: &JobReadiness, doubtful: f64) -> String {
    let Some(first) = job.short_of.first() else { return String::new() };
    if job.ready_chance >= doubtful {
        return String::new();
    }
    let others = job.short_of.len() - 1;
    let more = if others == 0 { String::new() } else { format!(" +{others}") };
    format!("{} {}{more}", view.amount(first.missing), view.product(&first.product))
}
