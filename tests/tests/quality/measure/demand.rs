//! Whether what is foretold of demand holds, and how sharp it is beside plain forecasts.

use capful_forecast::baseline::{
    Smoothing, moving_average, simple_exponential_smoothing, teunter_syntetos_babai,
};
use capful_forecast::plan::{Demand, ProductOutlook};
use capful_forecast::{PlanSettings, plan};
use capful_simulation::Life;
use chrono::Days;
use statrs::distribution::{ContinuousCDF, Normal};

/// Days that are foretold.
pub const SPANS: [u64; 3] = [7, 14, 28];
/// Chances of the quantiles that forecasts are scored at.
pub const CHANCES: [f64; 8] = [0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975];
pub const BASELINES: [&str; 4] =
    ["sheet x recent jobs", "moving average", "TSB", "exponential smoothing"];

/// Sums over products, spans and moments.
#[derive(Debug, Clone, Default)]
pub struct Score {
    /// For each span by how much the 50, 80 and 95 % bands held more than they say, and how many of
    /// them there were.
    pub beyond: [[f64; 3]; 3],
    pub count: [[f64; 3]; 3],
    /// Pinball loss of the plan and of each baseline, as a share of the product's usual demand.
    pub loss: f64,
    pub baselines: [f64; 4],
}

impl Score {
    pub fn add(&mut self, other: &Self) {
        for span in 0..SPANS.len() {
            for band in 0..3 {
                self.count[span][band] += other.count[span][band];
                self.beyond[span][band] += other.beyond[span][band];
            }
        }
        self.loss += other.loss;
        for (own, other) in self.baselines.iter_mut().zip(other.baselines) {
            *own += other;
        }
    }

    /// Shares held of the 50, 80 and 95 % bands over one span.
    pub fn coverage(&self, span: usize) -> [f64; 3] {
        let held = |band: usize| self.beyond[span][band] / self.count[span][band].max(1.0);
        [0.5 + held(0), 0.8 + held(1), 0.95 + held(2)]
    }
}

/// Koenker & Bassett 1978: what a quantile forecast loses.
pub fn pinball(chance: f64, said: f64, came: f64) -> f64 {
    if came >= said { chance * (came - said) } else { (1.0 - chance) * (said - came) }
}

fn quantiles(demand: &Demand) -> [f64; 8] {
    let bands = &demand.bands;
    [bands.p2_5, demand.p10, bands.p25, demand.p50, bands.p75, demand.p90, demand.p95, bands.p97_5]
}

/// For the 50, 80 and 95 % bands by how much they held more than they say, one outcome at a time.
/// Where a band begins at nothing it says that its upper end holds, which is more than its name;
/// where it ends there too, it says too little to be held against anything.
fn held_beyond(quantiles: &[f64; 8], came: f64) -> [Option<f64>; 3] {
    let ends = [(2, 4), (1, 5), (0, 7)];
    ends.map(|(low, high)| {
        let from = quantiles[low];
        let said = if from > 0.0 { CHANCES[high] - CHANCES[low] } else { CHANCES[high] };
        let held = (from <= 0.0 || came >= from) && came <= quantiles[high];
        (quantiles[high] > 0.0).then(|| f64::from(u8::from(held)) - said)
    })
}

/// What jobs truly take of a product on days `from .. from + days`.
fn truly(life: &Life, product: usize, from: chrono::NaiveDate, days: u64) -> f64 {
    let to = from + Days::new(days);
    let start = life.took().partition_point(|took| took.day < from);
    let span = life.took()[start..].iter().take_while(|took| took.day < to);
    span.filter(|took| took.product == product).map(|took| took.amount).sum()
}

/// Demand over one span as the plan has it.
fn foretold(outlook: &ProductOutlook, days: u64) -> Option<&Demand> {
    let own = |d: &&Demand| (d.to - d.from).num_days() == days as i64;
    std::iter::once(&outlook.demand).chain(&outlook.demand_ahead).find(own)
}

/// Scores the plan of the morning after so many weeks.
pub fn score(life: &Life, weeks: u32) -> Score {
    let snapshot = super::snapshot(life, weeks);
    let made = plan(&snapshot, &PlanSettings::default(), u64::from(weeks));
    let day = life.day_after_weeks(weeks);
    let mut score = Score::default();
    for (product, outlook) in made.products.iter().enumerate() {
        let weekly = weekly(life, product, weeks);
        let usual = weekly.iter().sum::<f64>() / weekly.len() as f64;
        if usual <= 0.0 {
            continue;
        }
        for (place, days) in SPANS.into_iter().enumerate() {
            let Some(demand) = foretold(outlook, days) else { continue };
            let came = truly(life, product, day, days);
            let said = quantiles(demand);
            for (band, beyond) in held_beyond(&said, came).into_iter().enumerate() {
                score.count[place][band] += f64::from(u8::from(beyond.is_some()));
                score.beyond[place][band] += beyond.unwrap_or(0.0);
            }
            let scale = usual * days as f64 / 7.0 * CHANCES.len() as f64;
            let loss = |said: &[f64; 8]| -> f64 {
                CHANCES.iter().zip(said).map(|(c, s)| pinball(*c, *s, came)).sum::<f64>() / scale
            };
            score.loss += loss(&said);
            for (sum, said) in score.baselines.iter_mut().zip(plain(life, product, weeks, days)) {
                *sum += loss(&said);
            }
        }
    }
    score
}

/// What jobs truly took in each week before.
fn weekly(life: &Life, product: usize, weeks: u32) -> Vec<f64> {
    (0..weeks).map(|week| truly(life, product, life.day_after_weeks(week), 7)).collect()
}

/// Quantiles of the plain forecasts: their point forecast for a week, times the weeks, and a normal
/// spread from how far they were off in the weeks before. They are told the true use of every week,
/// which no shop writes down.
fn plain(life: &Life, product: usize, weeks: u32, days: u64) -> [[f64; 8]; 4] {
    let history = weekly(life, product, weeks);
    let sheet = sheet_by_week(life, product, weeks);
    let smoothing = Smoothing::new(0.1).unwrap();
    let forecasts: [Box<dyn Fn(usize) -> f64>; 4] = [
        // Jobs of the last four weeks, each at what the sheet says.
        Box::new(|week| super::mean(sheet[week.saturating_sub(4)..week].iter().copied())),
        Box::new(|week| moving_average(&history[..week], 8.min(week)).unwrap()),
        Box::new(|week| teunter_syntetos_babai(&history[..week], smoothing, smoothing).unwrap()),
        Box::new(|week| simple_exponential_smoothing(&history[..week], smoothing).unwrap()),
    ];
    let spans = days as f64 / 7.0;
    forecasts.map(|forecast| {
        let point = forecast(weeks as usize);
        let first = weeks.saturating_sub(26).max(4) as usize;
        let offs = (first..weeks as usize).map(|week| (history[week] - forecast(week)).powi(2));
        let sd = super::mean(offs).sqrt().max(1e-9);
        let normal = Normal::new(point * spans, sd * spans.sqrt()).unwrap();
        CHANCES.map(|chance| normal.inverse_cdf(chance).max(0.0))
    })
}

/// What the sheet says that each past week's jobs took.
fn sheet_by_week(life: &Life, product: usize, weeks: u32) -> Vec<f64> {
    let mut by_week = vec![0.0; weeks as usize];
    let rows = &life.facts().usage_sheet;
    for visit in life.visits().iter().filter(|visit| visit.came()) {
        let week = life.week_of(visit.day) as usize;
        let Some(sum) = by_week.get_mut(week) else { break };
        let pairs = life.truth().pairs.iter().zip(rows);
        for (pair, row) in pairs.filter(|(p, _)| p.product == product) {
            if visit.job_types.contains(&pair.job_type) {
                let share = row.share_of_jobs.map_or(1.0, |s| f64::try_from(s).unwrap());
                *sum += share * pair.said;
            }
        }
    }
    by_week
}
