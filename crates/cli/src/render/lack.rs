//! Why a job may not be ready: its chance split over the products, and each product's sum.

use capful_forecast::plan::{JobReadiness, ShortOf, ShortParts};

use super::numbers::{chance, counted, shares};
use super::{Column, Table, Tone, View, paragraph};

/// How the chance of not being ready falls on the products; nothing where it is only one.
pub(crate) fn split(view: &View<'_>, job: &JobReadiness, indent: usize) -> String {
    let lacking: Vec<&ShortOf> = job.short_of.iter().filter(|s| s.not_ready > 0.0).collect();
    let mut names: Vec<String> =
        lacking.iter().map(|short| view.product(&short.product).to_owned()).collect();
    let mut parts: Vec<f64> = lacking.iter().map(|short| short.not_ready).collect();
    if job.not_ready_others > 0.0 {
        names.push("others".to_owned());
        parts.push(job.not_ready_others);
    }
    if parts.len() < 2 {
        return String::new();
    }
    let (parts, all) = shares(&parts);
    let each: Vec<String> =
        names.iter().zip(parts).map(|(name, part)| format!("{part} {name}")).collect();
    let text = format!(
        "Not ready {all}: {}. Where several lack at once, it counts in equal parts for each.",
        each.join("; ")
    );
    paragraph(view.ink, Tone::Plain, indent, &text)
}

/// What a job may lack of a product, from what is there to what is left over.
pub(crate) fn sum(view: &View<'_>, parts: &ShortParts, indent: usize) -> String {
    let rows = parts.sum();
    let mut lines = parts.coming.iter();
    let mut table = Table::new(&[Column::Left, Column::Right, Column::Left]).indented(indent);
    for (row, (sign, amount)) in rows.iter().zip(view.sum(&rows)) {
        let is_none = row.amount.amount == 0.0;
        let text = match row.part {
            "on_hand" => "on the shelf".to_owned(),
            "books_off" | "other_ratio" | "goes_off" if is_none => continue,
            "books_off" => "as the books may be off, on average".to_owned(),
            "coming" => {
                let Some(line) = lines.next() else { continue };
                let (holds, in_time) = (view.amount(line.holds), chance(line.chance));
                format!("of {holds} on its way ({}), {in_time} in time", line.order)
            }
            "booked" => {
                let jobs = parts.booked_jobs as usize;
                counted(jobs, "booked job before it takes", "booked jobs before it take")
            }
            "not_booked" => "jobs not booked yet take before it".to_owned(),
            "goes_off" => "goes off before it".to_owned(),
            "other_ratio" => "stands mixed at another ratio".to_owned(),
            "takes" => "it takes itself".to_owned(),
            "left" if parts.left.amount < 0.0 => "missing on average".to_owned(),
            "left" => "left over on average".to_owned(),
            "swing" => "less in the worst tenth of cases".to_owned(),
            _ if parts.least.amount < 0.0 => "missing in these".to_owned(),
            _ => "left over in these".to_owned(),
        };
        table.row(vec![sign.into(), amount.into(), text.into()]);
    }
    table.lines(view.ink)
}
