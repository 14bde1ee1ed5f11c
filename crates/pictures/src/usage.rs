//! What jobs take as learned, against the usage sheet: a bar as wide as what is not known of the
//! average, on one scale for all products, from a third of the sheet to three times as much.

use capful_forecast::plan::UsageRow;

use crate::canvas::{Canvas, Side, Tone, WIDTH, cut, picture};
use crate::measure::Measure;
use crate::names::Names;

const ROW: f64 = 24.0;
const TOP: f64 = 92.0;
const FOOT: f64 = 34.0;
/// Ends of the scale.
const FROM: f64 = 158.0;
const TO: f64 = 314.0;
/// How far the scale reaches, as a factor.
const REACH: f64 = 3.0;

/// The rows of one job type, of one size and condition, that its sheet lists.
#[must_use]
pub fn usage(rows: &[UsageRow], job_type: &str, names: &Names) -> String {
    let listed = |row: &&UsageRow| row.job_type == job_type && row.sheet > 0.0;
    let mut own: Vec<&UsageRow> = rows.iter().filter(listed).collect();
    own.sort_by_key(|row| names.product(&row.product).to_lowercase());
    let title = format!("{}: what a job takes", names.job_type(job_type));
    let about: Vec<String> = own.iter().map(|row| sentence(row, names)).collect();
    let about = match own.is_empty() {
        true => "Its usage sheet lists nothing.".to_owned(),
        false => about.join(" "),
    };
    let height = TOP + ROW * own.len() as f64 + FOOT;
    picture(height, (&title, &about), |canvas| {
        canvas.heading(&cut(&title, 290.0), (14.0, 20.0));
        if let Some(first) = own.first() {
            let text = format!("A {} vehicle of condition {}.", first.size, first.condition);
            canvas.text(&text, (14.0, 42.0), Side::Start, Tone::Soft);
        }
        scale(canvas, TOP + ROW * own.len() as f64);
        for (place, row) in own.iter().enumerate() {
            drawn(canvas, row, names, TOP + ROW * (place as f64 + 0.5));
        }
        let y = height - 16.0;
        canvas.bar((14.0, y - 5.0), (40.0, y + 5.0), Tone::Likely);
        canvas.dot((27.0, y), 4, Tone::Ink);
        let text = "average; the bar holds it 8 times in 10";
        canvas.text(text, (46.0, y), Side::Start, Tone::Soft);
    })
}

fn sentence(row: &UsageRow, names: &Names) -> String {
    let show = |number: f64| measure(row, names).text(number);
    format!(
        "{}: {} on average, known to between {} and {}; the sheet says {}.",
        names.product(&row.product),
        show(row.mean),
        show(row.mean_p10),
        show(row.mean_p90),
        show(row.sheet)
    )
}

fn measure(row: &UsageRow, names: &Names) -> Measure {
    Measure::of(names.unit_of(&row.product), names.units, row.mean_p90.max(row.sheet))
}

/// Where a share of the sheet stands.
fn x(share: f64) -> f64 {
    let reach = REACH.ln();
    let part = (share.max(1e-9).ln() / reach).clamp(-1.0, 1.0);
    f64::midpoint(FROM, TO) + (TO - FROM) / 2.0 * part
}

fn scale(canvas: &Canvas<'_>, bottom: f64) {
    for (share, text) in [(1.0 / 3.0, "⅓"), (0.5, "½"), (1.0, "sheet"), (2.0, "2×"), (3.0, "3×")]
    {
        let place = x(share);
        let (width, tone) = if share == 1.0 { (2, Tone::Rust) } else { (1, Tone::Line) };
        canvas.line([(place, TOP - 12.0), (place, bottom)], width, tone);
        canvas.text(text, (place, TOP - 22.0), Side::Middle, Tone::Soft);
    }
}

fn drawn(canvas: &Canvas<'_>, row: &UsageRow, names: &Names, y: f64) {
    let name = cut(names.product(&row.product), FROM - 22.0);
    canvas.text(&name, (14.0, y), Side::Start, Tone::Ink);
    let [low, mean, high] = [row.mean_p10, row.mean, row.mean_p90].map(|own| x(own / row.sheet));
    // What is sure is still seen.
    canvas.bar((low, y - 6.0), (high.max(low + 3.0), y + 6.0), Tone::Likely);
    canvas.line([(x(1.0), y - 7.0), (x(1.0), y + 7.0)], 2, Tone::Rust);
    canvas.dot((mean, y), 4, Tone::Ink);
    let text = measure(row, names).text(row.mean);
    canvas.text(&text, (f64::from(WIDTH) - 12.0, y), Side::End, Tone::Ink);
}
