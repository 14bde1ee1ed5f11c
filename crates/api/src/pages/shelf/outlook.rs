//! What is to come for a product: what jobs take of it, as a fan and in words.

use capful_domain::{Container, Product};
use capful_forecast::Plan;
use capful_forecast::plan::{AmountIn, Demand, ProductOutlook, UsageRow};

use super::books::Books;
use crate::pages::amounts::percent;
use crate::pages::drawing::{self, Band};
use crate::pages::frame::day_name;
use crate::pages::say::words;
use crate::wire;

/// How many times as high as the fan the picture is at most.
const HIGH: f64 = 1.6;

/// What jobs will take of a product, drawn and told.
pub(super) struct Ahead {
    pub fan: String,
    /// The day at its right end.
    pub until: String,
    pub lines: Vec<String>,
}

/// What one job type takes of a product.
pub(super) struct Takes {
    pub job_type: String,
    pub text: String,
}

/// A span of a fan.
fn band(demand: &Demand) -> Band {
    Band { p10: demand.p10, p50: demand.p50, p90: demand.p90, p95: demand.p95 }
}

/// A band for each week: the spans that a plan speaks of, and halfway where one lies between.
fn weeks(outlook: &ProductOutlook) -> Vec<Band> {
    let mut spans: Vec<&Demand> = outlook.demand_ahead.iter().collect();
    spans.push(&outlook.demand);
    spans.sort_by_key(|demand| demand.to);
    let none = Band { p10: 0.0, p50: 0.0, p90: 0.0, p95: 0.0 };
    let (mut bands, mut last, mut last_week) = (Vec::new(), none, 0);
    for demand in spans {
        let (next, week) = (band(demand), (demand.to - demand.from).num_days() / 7);
        for between in last_week + 1..=week {
            let share = (between - last_week) as f64 / (week - last_week) as f64;
            let at = |from: f64, to: f64| from + (to - from) * share;
            bands.push(Band {
                p10: at(last.p10, next.p10),
                p50: at(last.p50, next.p50),
                p90: at(last.p90, next.p90),
                p95: at(last.p95, next.p95),
            });
        }
        (last, last_week) = (next, week);
    }
    bands
}

impl Books {
    /// What jobs will take of a product.
    pub(super) fn ahead(&self, product: &Product, plan: &Plan) -> Option<Ahead> {
        let t = words();
        let own = plan.products.iter().find(|own| own.product == product.id.as_str())?;
        // The plan is of this morning; what is on hand is of now.
        let usable = |container: &&&Container| !container.is_past(product, self.day());
        let on_hand = self.live(product).iter().filter(usable).map(|own| own.left).sum();
        let (on_hand, unit) = (wire::amount(product, on_hand).amount, own.on_hand.unit);
        let show = |amount: f64| self.measures.amount(&AmountIn { amount, unit });
        let (demand, bands) = (&own.demand, weeks(own));
        // A fan under a line far above it would be flat: the line is drawn no higher than this.
        let highest = bands.iter().map(|band| band.p95).fold(own.reorder_point.amount, f64::max);
        let is_high = highest > 0.0 && on_hand > HIGH * highest;
        let line = if is_high { HIGH * highest } else { on_hand };
        let hand = if is_high { "ahead-hand-high" } else { "ahead-hand" };
        let taken = t
            .say("ahead-demand")
            .with("middle", show(demand.p50))
            .with("most", show(demand.p90))
            .to_string();
        let mut lines = vec![
            t.say(hand).with("amount", show(on_hand)).to_string(),
            t.say("ahead-point").with("amount", show(own.reorder_point.amount)).to_string(),
            taken,
        ];
        if own.on_order.amount > 0.0 {
            lines.push(t.say("ahead-order").with("amount", show(own.on_order.amount)).to_string());
        }
        let days = own.cover_days;
        let lasts = match (own.cover_is_at_least, days.p10 == days.p90) {
            (true, _) => t.say("ahead-lasts-long").with("days", own.horizon_days),
            (false, true) => t.say("ahead-lasts").with("days", days.p50),
            (false, false) => t.say("ahead-lasts-from").with("from", days.p10).with("to", days.p90),
        };
        lines.push(lasts.to_string());
        let fan = drawing::fan(&bands, line, own.reorder_point.amount, &lines.join(" "));
        let weeks = chrono::Days::new(7 * bands.len() as u64);
        let until = day_name(self.day() + weeks, self.day());
        Some(Ahead { fan, until, lines })
    }

    /// What each job type takes of a product, of a medium vehicle of condition 3; the most first.
    pub(super) fn takes(&self, product: &Product, plan: &Plan) -> Vec<Takes> {
        let is_own = |row: &&UsageRow| {
            row.product == product.id.as_str()
                && row.size == "medium"
                && row.condition == 3
                && row.mean > 0.0
        };
        let mut rows: Vec<&UsageRow> = plan.usage.iter().filter(is_own).collect();
        rows.sort_by(|a, b| b.mean.total_cmp(&a.mean));
        rows.into_iter().map(|row| self.one_that_takes(row, product)).collect()
    }

    fn one_that_takes(&self, row: &UsageRow, product: &Product) -> Takes {
        let unit = product.unit.symbol();
        let show = |amount: f64| self.measures.amount(&AmountIn { amount, unit });
        let types = &self.snapshot.facts.job_types;
        let own = types.iter().find(|own| own.id.as_str() == row.job_type);
        let text = words()
            .say("takes")
            .with("mean", show(row.mean))
            .with("low", show(row.mean_p10))
            .with("high", show(row.mean_p90))
            .with("share", percent(row.share_of_jobs))
            .with("jobs", row.jobs_seen)
            .to_string();
        let job_type = own.map_or_else(|| row.job_type.clone(), |own| own.name.clone());
        Takes { job_type, text }
    }
}
