//! The plain forecasts beside the plan: what somebody with the same records and a spreadsheet could
//! have said on the same morning.
//!
//! They see a product's usage week by week, as well as it was recorded until then (where nothing
//! was measured or counted yet, the sheet stretched by what counts and pours have shown so far).
//! Each is as unsure as its own errors over spans of the same length were in the weeks before: a
//! Gaussian with the root of their mean square (Silver, Pyke & Thomas, §3.8: safety stock from the
//! errors of the forecast in use), no part of it below nothing.

use capful_domain::{JobStatus, Snapshot};
use chrono::Days;
use statrs::distribution::{ContinuousCDF, Normal};

use super::result::{Baseline, BaselineForecast};
use super::taken::{Seen, Takings};
use crate::backtest::baseline::{
    Smoothing, moving_average, simple_exponential_smoothing, teunter_syntetos_babai,
};
use crate::learn::index::UnitOfWork;
use crate::learn::learned_model::LearnedModel;

/// Weeks that "recent" jobs are counted over: a month.
const RECENT_WEEKS: usize = 4;
/// Weeks of the moving average. Common practice has four to twelve.
const AVERAGED_WEEKS: usize = 8;
/// Weight of the newest week of a level. Common practice has 0.1 to 0.3.
const LEVEL_WEIGHT: f64 = 0.2;
/// Weight of the newest week of a chance, which moves more slowly (Teunter, Syntetos & Babai 2011).
const CHANCE_WEIGHT: f64 = 0.1;
/// Weeks that a forecast must have seen before its errors count.
const WEEKS_TO_START: usize = 4;

/// A plain forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Method {
    Sheet,
    MovingAverage,
    Tsb,
    Smoothing,
}

const METHODS: [Method; 4] = [Method::Sheet, Method::MovingAverage, Method::Tsb, Method::Smoothing];

impl Method {
    const fn name(self) -> &'static str {
        match self {
            Self::Sheet => "sheet",
            Self::MovingAverage => "moving-average",
            Self::Tsb => "tsb",
            Self::Smoothing => "smoothing",
        }
    }

    const fn text(self) -> &'static str {
        match self {
            Self::Sheet => {
                "The usage sheet, with the shop's size and condition factors, times the jobs of \
                 the last four weeks."
            }
            Self::MovingAverage => "Mean usage of the last eight weeks.",
            Self::Tsb => {
                "Teunter, Syntetos & Babai (2011) on weekly usage, weights 0.2 for sizes and 0.1 \
                 for the chance."
            }
            Self::Smoothing => "Simple exponential smoothing of weekly usage, weight 0.2.",
        }
    }

    /// What it expects of a week after these.
    fn week(self, weeks: &[PastWeek]) -> Option<f64> {
        let taken: Vec<f64> = weeks.iter().map(|week| week.taken).collect();
        let level = Smoothing::new(LEVEL_WEIGHT).ok()?;
        let chance = Smoothing::new(CHANCE_WEIGHT).ok()?;
        match self {
            Self::Sheet => {
                let sheet: Vec<f64> = weeks.iter().map(|week| week.sheet).collect();
                moving_average(&sheet, RECENT_WEEKS)
            }
            Self::MovingAverage => moving_average(&taken, AVERAGED_WEEKS),
            Self::Tsb => teunter_syntetos_babai(&taken, level, chance),
            Self::Smoothing => simple_exponential_smoothing(&taken, level),
        }
        .ok()
    }

    /// What it expects of the next `ahead` weeks, and the root mean square of its errors over so
    /// many weeks until now.
    fn forecast(self, weeks: &[PastWeek], ahead: usize) -> Option<(f64, f64)> {
        let spans = WEEKS_TO_START..=weeks.len().checked_sub(ahead)?;
        let errors: Vec<f64> = spans
            .filter_map(|cut| {
                let came: f64 = weeks[cut..cut + ahead].iter().map(|week| week.taken).sum();
                Some(self.week(&weeks[..cut])? * ahead as f64 - came)
            })
            .collect();
        let squares: f64 = errors.iter().map(|error| error * error).sum();
        let sd = (squares / errors.len().max(1) as f64).sqrt();
        Some((self.week(weeks)? * ahead as f64, sd))
    }
}

/// One past week of one product, in base units.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct PastWeek {
    /// What was taken, as far as is known.
    taken: f64,
    /// What its done jobs take by the sheet.
    sheet: f64,
}

/// What the baselines are, for the reader.
pub(crate) fn described() -> Vec<Baseline> {
    METHODS.iter().map(|m| Baseline { method: m.name(), text: m.text() }).collect()
}

/// A quantile of a plain forecast.
pub(crate) fn quantile(forecast: &BaselineForecast, chance: f64) -> f64 {
    (forecast.mean + forecast.sd * Normal::standard().inverse_cdf(chance)).max(0.0)
}

/// The past weeks of every product, oldest first.
pub(crate) struct PastWeeks {
    products: Vec<Vec<PastWeek>>,
}

impl PastWeeks {
    /// Weeks back from the snapshot's moment, as far as done jobs go.
    pub fn of(snapshot: &Snapshot, lessons: &LearnedModel) -> Self {
        let index = &lessons.index;
        let sheet = |unit: &UnitOfWork| {
            let pair = &index.pairs[unit.pair];
            pair.centre * pair.share * (unit.ln_size + unit.ln_condition).exp()
        };
        let mut taken = Takings::of(snapshot, lessons, sheet);
        for (list, uses) in taken.products.iter_mut().zip(&lessons.uses) {
            let by_sheet = uses.iter().map(|one| one.units.iter().map(sheet).sum::<f64>());
            stretch(list, &by_sheet.collect::<Vec<f64>>());
        }
        let shop = &snapshot.facts.shop;
        let done = snapshot.facts.jobs.iter().filter(|job| job.status == JobStatus::Done);
        let first = done.map(|job| shop.day_of(job.ended_at(shop))).min();
        let weeks = first.map_or(0, |first| (snapshot.day - first).num_days() / 7);
        let weeks = u64::try_from(weeks).unwrap_or(0);
        let start = |back: u64| shop.start_of(snapshot.day - Days::new(7 * back));
        let of_product = |product: usize| -> Vec<PastWeek> {
            let past = (1..=weeks).rev().map(|back| {
                let (after, until) = (start(back), start(back - 1));
                let inside = |at| after < at && at <= until;
                let uses = lessons.uses[product].iter().filter(|one| inside(one.at));
                let units = uses.flat_map(|one| &one.units);
                let listed = units.filter(|unit| index.pairs[unit.pair].on_sheet);
                PastWeek {
                    taken: taken.between(product, after, until).quantity,
                    sheet: listed.map(sheet).sum(),
                }
            });
            past.collect()
        };
        Self { products: (0..index.products.len()).map(of_product).collect() }
    }

    /// What each plain forecast says of the next days, in base units.
    pub fn forecasts(&self, product: usize, days: u32) -> Vec<BaselineForecast> {
        let weeks = &self.products[product];
        let ahead = (days / 7) as usize;
        let each = METHODS.iter().filter_map(|method| {
            let (mean, sd) = method.forecast(weeks, ahead)?;
            Some(BaselineForecast { method: method.name(), mean, sd })
        });
        each.collect()
    }
}

/// Stretches what is only thought by how much more than the sheet was shown where something was.
/// Takings of jobs stand in the order of `by_sheet`.
fn stretch(takings: &mut [super::taken::Taking], by_sheet: &[f64]) {
    let (mut shown, mut said) = (0.0, 0.0);
    let jobs = takings.iter().filter(|taking| taking.job.is_some());
    for (taking, sheet) in jobs.zip(by_sheet).filter(|(t, _)| t.seen != Seen::Thought) {
        shown += taking.quantity;
        said += sheet;
    }
    if said <= 0.0 {
        return;
    }
    for taking in takings.iter_mut().filter(|taking| taking.seen == Seen::Thought) {
        taking.quantity *= shown / said;
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn weeks(taken: &[f64]) -> Vec<PastWeek> {
        taken.iter().map(|taken| PastWeek { taken: *taken, sheet: 10.0 }).collect()
    }

    /// Nine weeks of 8, then one of 18. The moving average of eight is 9.25 a week. Its errors over
    /// one week: five weeks foretold right, and the last at 8 where 18 came: √(100/6).
    #[test]
    fn a_moving_average_is_as_unsure_as_it_was_wrong() {
        let past = weeks(&[8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 18.0]);
        let (mean, sd) = Method::MovingAverage.forecast(&past, 1).unwrap();
        assert!((mean - 9.25).abs() < 1e-12, "{mean}");
        assert!((sd - (100.0_f64 / 6.0).sqrt()).abs() < 1e-12, "{sd}");
    }

    /// The sheet says 10 a week whatever was taken: 2 too much in each week of 8.
    #[test]
    fn the_sheet_looks_at_jobs_alone() {
        let past = weeks(&[8.0; 9]);
        let (mean, sd) = Method::Sheet.forecast(&past, 4).unwrap();
        assert!((mean - 40.0).abs() < 1e-12 && (sd - 8.0).abs() < 1e-12, "{mean} {sd}");
    }

    #[test]
    fn nothing_is_said_of_spans_longer_than_the_history() {
        assert!(Method::Tsb.forecast(&weeks(&[8.0; 3]), 4).is_none());
    }

    #[test]
    fn quantiles_of_a_plain_forecast_are_gaussian_and_not_below_nothing() {
        let forecast = BaselineForecast { method: "tsb", mean: 10.0, sd: 5.0 };
        // z of 0.975 is 1.959964 (standard normal table).
        assert!((quantile(&forecast, 0.975) - 19.799_82).abs() < 1e-4);
        assert_eq!(quantile(&forecast, 0.01), 0.0);
    }
}
