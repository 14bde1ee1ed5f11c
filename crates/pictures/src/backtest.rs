//! How the plan would have done in past weeks: how far its forecasts were off beside plain ones,
//! whether its bands held what they said, and what its list would have cost.

use capful_forecast::backtest::{Account, Backtest, SpanScore};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::canvas::{Canvas, Side, Tone, WIDTH, picture};
use crate::measure::figures;

const ROW: f64 = 20.0;
const LEFT: f64 = 14.0;
const RIGHT: f64 = WIDTH as f64 - 14.0;
/// Ends of the bars: names stand left of them, numbers right.
const FROM: f64 = 138.0;
const TO: f64 = RIGHT - 62.0;

/// The whole backtest in three parts.
#[must_use]
pub fn backtest(told: &Backtest) -> String {
    let scores = best_known(told);
    let rows = |number: usize| number as f64 * ROW;
    let methods: usize = scores.iter().map(|score| score.methods.len() + 1).sum();
    let bands_at = 76.0 + rows(methods) + 34.0;
    let costs_at = bands_at + 44.0 + rows(3 * scores.len()) + 48.0;
    let height = costs_at + 26.0 + 5.0 * 34.0 + 30.0;
    let title = format!("The plan in {} past weeks", told.weeks.len());
    let span = format!("{} to {}", told.from.format("%-d %b %Y"), told.to.format("%-d %b %Y"));
    picture(height, (&title, &about(told, &scores)), |canvas| {
        canvas.heading(&title, (LEFT, 20.0));
        canvas.text(&format!("{}, {span}", told.shop), (LEFT, 42.0), Side::Start, Tone::Soft);
        errors(canvas, &scores, 66.0);
        bands(canvas, &scores, bands_at);
        costs(canvas, told, costs_at);
    })
}

/// For each span what is known, where anything is, else what is estimated.
fn best_known(told: &Backtest) -> Vec<&SpanScore> {
    let mut best: Vec<&SpanScore> = Vec::new();
    for score in &told.spans {
        if best.last().is_none_or(|last| last.days != score.days) {
            best.push(score);
        }
    }
    best
}

fn percent(share: f64) -> String {
    format!("{:.0}%", share * 100.0)
}

/// The picture in words.
fn about(told: &Backtest, scores: &[&SpanScore]) -> String {
    let mut about = String::new();
    for score in scores {
        let each = score.methods.iter();
        let each = each.map(|own| format!("{} {}", name(own.method), percent(own.error)));
        let bands = score.bands.iter();
        let bands = bands.map(|own| {
            format!("{} said {}, held {}", own.band, percent(own.said), percent(own.held))
        });
        about.push_str(&format!(
            "Next {} days ({}): off by {}; bands: {}. ",
            score.days,
            score.yardstick,
            each.collect::<Vec<_>>().join(", "),
            bands.collect::<Vec<_>>().join("; ")
        ));
    }
    let (list, shop) = (&told.followed.list, &told.followed.shop);
    about.push_str(&format!(
        "Freight, holding, what went off and stalls: {} {} had the list been followed; the shop's \
         own, without stalls, were {}.",
        told.currency, list.avoidable, shop.avoidable
    ));
    about
}

/// What a method is called.
fn name(method: &str) -> &str {
    match method {
        "plan" => "the plan",
        "sheet" => "sheet × jobs",
        "moving-average" => "8-week average",
        "tsb" => "TSB",
        "smoothing" => "smoothing",
        other => other,
    }
}

/// A line over a group of rows.
fn group(score: &SpanScore) -> String {
    format!("next {} days, {} ({} cases)", score.days, score.yardstick, score.cases)
}

fn errors(canvas: &Canvas<'_>, scores: &[&SpanScore], top: f64) {
    canvas.heading("Off by, as a share of what was taken", (LEFT, top));
    let all = scores.iter().flat_map(|score| &score.methods);
    let most = all.map(|own| own.error).fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    let mut y = top + 24.0;
    for score in scores {
        canvas.text(&group(score), (LEFT, y), Side::Start, Tone::Soft);
        y += ROW;
        for own in &score.methods {
            let is_own = own.method == "plan";
            let to = FROM + (TO - FROM) * own.error / most;
            let tone = if is_own { Tone::Sure } else { Tone::Doubt };
            canvas.text(name(own.method), (LEFT + 8.0, y), Side::Start, Tone::Ink);
            canvas.bar((FROM, y - 6.0), (to.max(FROM + 1.0), y + 6.0), tone);
            canvas.frame((FROM, y - 6.0), (to.max(FROM + 1.0), y + 6.0), Tone::Soft);
            canvas.text(&percent(own.error), (RIGHT, y), Side::End, Tone::Ink);
            y += ROW;
        }
    }
}

fn bands(canvas: &Canvas<'_>, scores: &[&SpanScore], top: f64) {
    canvas.heading("Bands: said (line) and held (dot)", (LEFT, top));
    let x = |share: f64| FROM + (TO - FROM) * share.clamp(0.0, 1.0);
    let first = top + 44.0;
    let bottom = first + ROW * 3.0 * scores.len() as f64 - ROW / 2.0;
    for mark in [0.0, 0.25, 0.5, 0.75, 1.0] {
        canvas.line([(x(mark), first - 10.0), (x(mark), bottom)], 1, Tone::Line);
        canvas.text(&percent(mark), (x(mark), top + 24.0), Side::Middle, Tone::Soft);
    }
    for (place, score) in scores.iter().enumerate() {
        for (row, own) in score.bands.iter().enumerate() {
            let y = first + ROW * (3 * place + row) as f64;
            let text = format!("{} days: {}%", score.days, own.band);
            canvas.text(&text, (LEFT + 8.0, y), Side::Start, Tone::Ink);
            canvas.line([(x(own.said), y), (x(own.held), y)], 4, Tone::Likely);
            canvas.line([(x(own.said), y - 8.0), (x(own.said), y + 8.0)], 2, Tone::Rust);
            canvas.dot((x(own.held), y), 5, Tone::Ink);
            canvas.text(&percent(own.held), (RIGHT, y), Side::End, Tone::Ink);
        }
    }
}

/// One kind of cost.
struct Cost {
    name: &'static str,
    of: fn(&Account) -> Option<Decimal>,
}

const COSTS: [Cost; 5] = [
    Cost { name: "freight", of: |own| Some(own.freight) },
    Cost { name: "went off", of: |own| Some(own.waste) },
    Cost { name: "holding", of: |own| Some(own.holding) },
    Cost { name: "stalls", of: |own| own.stalls },
    Cost { name: "together", of: |own| Some(own.avoidable) },
];

fn costs(canvas: &Canvas<'_>, told: &Backtest, top: f64) {
    let title = format!("Had the list been followed, {}", told.currency);
    canvas.heading(&title, (LEFT, top));
    let accounts = [&told.followed.list, &told.followed.shop];
    let float = |amount: Decimal| amount.to_f64().unwrap_or(0.0);
    let most = accounts.map(|own| float(own.avoidable)).into_iter().fold(1.0, f64::max);
    let mut y = top + 24.0;
    for cost in &COSTS {
        canvas.text(cost.name, (LEFT + 8.0, y + 7.0), Side::Start, Tone::Ink);
        for (account, tone) in accounts.into_iter().zip([Tone::Sure, Tone::Doubt]) {
            match (cost.of)(account) {
                Some(amount) => {
                    let to = FROM + (TO - FROM) * float(amount) / most;
                    canvas.bar((FROM, y - 6.0), (to.max(FROM + 1.0), y + 6.0), tone);
                    canvas.frame((FROM, y - 6.0), (to.max(FROM + 1.0), y + 6.0), Tone::Soft);
                    canvas.text(&figures(float(amount)), (RIGHT, y), Side::End, Tone::Ink);
                }
                None => canvas.text("not known", (RIGHT, y), Side::End, Tone::Soft),
            }
            y += 14.0;
        }
        y += 6.0;
    }
    for (x, tone, text) in [(LEFT, Tone::Sure, "the list"), (104.0, Tone::Doubt, "the shop itself")]
    {
        canvas.bar((x, y - 2.0), (x + 16.0, y + 10.0), tone);
        canvas.frame((x, y - 2.0), (x + 16.0, y + 10.0), Tone::Soft);
        canvas.text(text, (x + 22.0, y + 4.0), Side::Start, Tone::Soft);
    }
}
