//! Why a job may not be ready, in amounts: what is there before it, what it takes, what is left.

use capful_forecast::plan::{JobReadiness, ShortOf, ShortParts};
use capful_forecast::sums::{Sign, Summand};

use crate::pages::amounts::{percent, percents, sum};
use crate::pages::say::words;
use crate::pages::today::View;

/// What a job may lack of one product.
pub(super) struct Lacking {
    pub product: String,
    /// A sum: texts, amounts, and whether it is what those before come to.
    pub parts: Vec<(String, String, bool)>,
}

/// What a job may lack.
pub(super) struct Lacks {
    pub products: Vec<Lacking>,
    /// How its chance of not being ready falls on the products: names, shares, and the sum.
    pub split: Vec<(String, String, bool)>,
}

impl Lacks {
    /// Of a job that may lack something; `None` where it does not.
    pub(super) fn of(view: &View<'_>, ready: &JobReadiness) -> Option<Self> {
        let lacking = |short: &ShortOf| Lacking {
            product: view.name(&short.product),
            parts: parts(view, &short.parts),
        };
        let products: Vec<Lacking> = ready.short_of.iter().map(lacking).collect();
        (!products.is_empty()).then(|| Self { products, split: split(view, ready) })
    }
}

/// Nothing where it falls on one product only.
fn split(view: &View<'_>, ready: &JobReadiness) -> Vec<(String, String, bool)> {
    let t = words();
    let lacking = ready.short_of.iter().filter(|short| short.not_ready > 0.0);
    let (mut names, mut parts): (Vec<String>, Vec<f64>) =
        lacking.map(|short| (view.name(&short.product), short.not_ready)).unzip();
    if ready.not_ready_others > 0.0 {
        names.push(t.say("lack-others").to_string());
        parts.push(ready.not_ready_others);
    }
    if parts.len() < 2 {
        return Vec::new();
    }
    let (mut shown, all) = percents(&parts);
    names.push(t.say("lack-not-ready").to_string());
    shown.push(all);
    let last = names.len() - 1;
    let row = |(place, (name, share))| (name, share, place == last);
    names.into_iter().zip(shown).enumerate().map(row).collect()
}

fn parts(view: &View<'_>, parts: &ShortParts) -> Vec<(String, String, bool)> {
    let rows = parts.sum();
    let shown = sum(&rows, view.measures.units());
    let mut lines = parts.coming.iter();
    let texts: Vec<String> = rows
        .iter()
        .map(|row| match (row.part, lines.as_slice().first()) {
            ("coming", Some(line)) => {
                lines.next();
                words()
                    .say("lack-coming")
                    .with("amount", view.measures.amount(&line.holds))
                    .with("order", &line.order)
                    .with("chance", percent(line.chance))
                    .to_string()
            }
            _ => text(parts, row),
        })
        .collect();
    // What may be off, go off or stand at another ratio is told where it is.
    let rare = ["books_off", "goes_off", "other_ratio"];
    let is_told = |row: &Summand| row.amount.amount != 0.0 || !rare.contains(&row.part);
    let rows = rows.iter().zip(texts.into_iter().zip(shown)).filter(|(row, _)| is_told(row));
    rows.map(|(row, (text, amount))| (text, amount, row.sign == Sign::Is)).collect()
}

fn text(parts: &ShortParts, row: &Summand) -> String {
    let t = words();
    let less = row.amount.amount < 0.0;
    match row.part {
        "on_hand" => t.say("lack-hand").to_string(),
        "books_off" => t.say("lack-books-off").to_string(),
        "booked" => t.say("lack-booked").with("count", parts.booked_jobs).to_string(),
        "not_booked" => t.say("lack-not-booked").to_string(),
        "goes_off" => t.say("lack-goes-off").to_string(),
        "other_ratio" => t.say("lack-other-ratio").to_string(),
        "takes" => t.say("lack-takes").to_string(),
        "left" if less => t.say("lack-missing").to_string(),
        "left" => t.say("lack-left").to_string(),
        "swing" => t.say("lack-swing").to_string(),
        _ if less => t.say("lack-least-missing").to_string(),
        _ => t.say("lack-least").to_string(),
    }
}
