//! A product's demand as a fan: what jobs will take from now on, wider where it is less sure, with
//! what is on hand and the stock at which to order.

use capful_forecast::plan::{Demand, ProductOutlook};
use chrono::{Days, NaiveDate};

use crate::canvas::{Canvas, Point, Side, Tone, WIDTH, cut, picture};
use crate::measure::{Measure, marks};
use crate::names::Names;

const HEIGHT: f64 = 330.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = WIDTH as f64 - 14.0;
const TOP: f64 = 60.0;
const BOTTOM: f64 = HEIGHT - 72.0;
/// How many times as high as the fan a stock is drawn at most.
const HIGH: f64 = 1.4;

/// Ends of the bands at one day, from nothing at the first.
#[derive(Debug, Clone, Copy, Default)]
struct Ends {
    days: f64,
    low: [f64; 3],
    middle: f64,
    high: [f64; 3],
}

impl Ends {
    /// The widest band first.
    fn of(demand: &Demand) -> Self {
        let b = &demand.bands;
        Self {
            days: (demand.to - demand.from).num_days() as f64,
            low: [b.p2_5, demand.p10, b.p25],
            middle: demand.p50,
            high: [b.p97_5, demand.p90, b.p75],
        }
    }
}

/// The demand of one product over the spans that its plan speaks of.
#[must_use]
pub fn demand(outlook: &ProductOutlook, names: &Names) -> String {
    let mut spans: Vec<&Demand> = outlook.demand_ahead.iter().collect();
    spans.push(&outlook.demand);
    spans.sort_by_key(|demand| demand.to);
    let mut ends = vec![Ends::default()];
    ends.extend(spans.iter().map(|demand| Ends::of(demand)));
    let last = spans.last().copied().unwrap_or(&outlook.demand);
    let (hand, point) = (outlook.on_hand.amount, outlook.reorder_point.amount);
    let fan = last.bands.p97_5.max(point);
    let is_high = hand > HIGH * fan && fan > 0.0;
    let most = if is_high { HIGH * fan } else { fan.max(hand) };
    let most = if most > 0.0 { most } else { 1.0 };
    let measure = Measure::of(outlook.on_hand.unit, names.units, most);
    let title = format!("{}: what jobs will take", names.product(&outlook.product));
    let about = about(outlook, last, measure);
    picture(HEIGHT, (&title, &about), |canvas| {
        let fan = Fan { canvas, measure, most, days: ends.last().map_or(28.0, |end| end.days) };
        canvas.heading(&cut(&title, 290.0), (14.0, 20.0));
        fan.axes(outlook.demand.from);
        for (band, tone) in [Tone::Doubt, Tone::Likely, Tone::Sure].into_iter().enumerate() {
            fan.band(&ends, band, tone);
        }
        canvas.line(ends.iter().map(|end| fan.at(end.days, end.middle)), 2, Tone::Ink);
        fan.levels(hand, point, is_high);
        fan.legend();
    })
}

/// The picture in words.
fn about(outlook: &ProductOutlook, last: &Demand, measure: Measure) -> String {
    let show = |number: f64| measure.text(number);
    let until = last.to - Days::new(1);
    format!(
        "Until {} jobs take {} in the middle; half of all futures lie between {} and {}, eight in \
         ten between {} and {}, 95 in 100 between {} and {}. On hand: {}. Order when on hand and \
         on order together reach {}.",
        until.format("%A %-d %B"),
        show(last.p50),
        show(last.bands.p25),
        show(last.bands.p75),
        show(last.p10),
        show(last.p90),
        show(last.bands.p2_5),
        show(last.bands.p97_5),
        show(outlook.on_hand.amount),
        show(outlook.reorder_point.amount),
    )
}

struct Fan<'a, 'c> {
    canvas: &'a Canvas<'c>,
    measure: Measure,
    most: f64,
    days: f64,
}

impl Fan<'_, '_> {
    fn at(&self, days: f64, amount: f64) -> Point {
        let x = LEFT + (RIGHT - LEFT) * days / self.days.max(1.0);
        (x, BOTTOM - (BOTTOM - TOP) * (amount / self.most).clamp(0.0, 1.0))
    }

    /// Amounts at the left, the first day of each week below.
    fn axes(&self, from: NaiveDate) {
        for mark in marks(self.most * self.measure.factor) {
            let amount = mark / self.measure.factor;
            let (x, y) = self.at(0.0, amount);
            self.canvas.line([(x, y), (RIGHT, y)], 1, Tone::Line);
            let text = self.measure.text(amount);
            self.canvas.text(&text, (x - 6.0, y), Side::End, Tone::Soft);
        }
        let weeks = (self.days / 7.0).floor() as u32;
        for week in 0..=weeks {
            let day = from + Days::new(u64::from(week) * 7);
            let (x, y) = self.at(f64::from(week) * 7.0, 0.0);
            self.canvas.line([(x, y), (x, y + 4.0)], 1, Tone::Soft);
            let (text, side) = match week {
                0 => (day.format("%a %-d %b").to_string(), Side::Start),
                _ if week == weeks => (day.format("%-d %b").to_string(), Side::End),
                _ => (day.format("%-d %b").to_string(), Side::Middle),
            };
            let x = if week == 0 { x - 14.0 } else { x };
            self.canvas.text(&text, (x, y + 15.0), side, Tone::Soft);
        }
    }

    fn band(&self, ends: &[Ends], band: usize, tone: Tone) {
        let up = ends.iter().map(|end| self.at(end.days, end.high[band]));
        let down = ends.iter().rev().map(|end| self.at(end.days, end.low[band]));
        self.canvas.shape(up.chain(down), tone);
    }

    /// Lines at what is on hand and at the reorder point, each with its name on a side of its own.
    fn levels(&self, hand: f64, point: f64, is_high: bool) {
        let (_, y) = self.at(0.0, point);
        self.canvas.dashes((LEFT, y), RIGHT, Tone::Rust);
        let text = format!("reorder at {}", self.measure.text(point));
        self.canvas.text(&text, (RIGHT, above(y)), Side::End, Tone::Rust);
        let (_, y) = self.at(0.0, hand);
        self.canvas.line([(LEFT, y), (RIGHT, y)], 3, Tone::Ink);
        let more = if is_high { ", far above" } else { "" };
        let text = format!("on hand {}{more}", self.measure.text(hand));
        self.canvas.text(&text, (LEFT + 4.0, above(y)), Side::Start, Tone::Ink);
    }

    fn legend(&self) {
        let y = HEIGHT - 38.0;
        self.canvas.text("Of all futures", (14.0, y), Side::Start, Tone::Soft);
        let bands = [
            (110.0, Tone::Sure, "half"),
            (172.0, Tone::Likely, "8 in 10"),
            (252.0, Tone::Doubt, "95 in 100"),
        ];
        for (x, tone, text) in bands {
            self.canvas.bar((x, y - 6.0), (x + 16.0, y + 6.0), tone);
            self.canvas.frame((x, y - 6.0), (x + 16.0, y + 6.0), Tone::Soft);
            self.canvas.text(text, (x + 21.0, y), Side::Start, Tone::Soft);
        }
        let y = HEIGHT - 16.0;
        self.canvas.line([(14.0, y), (34.0, y)], 2, Tone::Ink);
        let text = "the middle: as many take more as less";
        self.canvas.text(text, (40.0, y), Side::Start, Tone::Soft);
    }
}

/// Where the name of a level stands: over its line.
fn above(y: f64) -> f64 {
    y - 9.0
}
