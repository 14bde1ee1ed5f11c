//! What is to come for a product: what jobs take of it, drawn and in words.

use capful_domain::Product;
use capful_forecast::Plan;
use capful_forecast::plan::{AmountIn, UsageRow};

use super::books::Books;
use crate::pages::amounts::percent;
use crate::pages::say::words;
use crate::path::segment;
use crate::wire;

/// What jobs will take of a product: where that is drawn, and told.
pub(super) struct Ahead {
    pub picture: String,
    pub lines: Vec<String>,
}

/// What one job type takes of a product.
pub(super) struct Takes {
    pub job_type: String,
    pub text: String,
}

impl Books {
    /// What jobs will take of a product.
    pub(super) fn ahead(&self, product: &Product, plan: &Plan) -> Option<Ahead> {
        let t = words();
        let own = plan.products.iter().find(|own| own.product == product.id.as_str())?;
        // The plan is of this morning; what is on hand is of now.
        let (on_hand, unit) =
            (wire::amount(product, self.usable(product)).amount, own.on_hand.unit);
        let show = |amount: f64| self.measures.amount(&AmountIn { amount, unit });
        let demand = &own.demand;
        let taken = t
            .say("ahead-demand")
            .with("middle", show(demand.p50))
            .with("most", show(demand.p90))
            .to_string();
        let mut lines = vec![
            t.say("ahead-hand").with("amount", show(on_hand)).to_string(),
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
        Some(Ahead { picture: format!("/shelf/{}/demand.svg", segment(&product.id)), lines })
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
