//! Holds what was foretold against what was taken: errors, pinball loss, coverage.

use chrono::Days;

use super::plain;
use super::result::{BandScore, ForetoldSpan, MethodScore, ProductScore, SpanScore, Took, Week};
use super::taken::Known;
use super::{Foretold, SPANS_DAYS};
use crate::plan::{AmountIn, Demand};
use crate::statistics::rounded;

/// The chances of the quantiles that a plan prints.
const CHANCES: [f64; 8] = [0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975];
/// Both yardsticks, the better one first.
const YARDSTICKS: [&str; 2] = ["known", "estimated"];

/// The quantiles of [`CHANCES`].
const fn quantiles(demand: &Demand) -> [f64; 8] {
    let b = &demand.bands;
    [b.p2_5, demand.p10, b.p25, demand.p50, b.p75, demand.p90, demand.p95, b.p97_5]
}

/// Writes beside each span that is over what was taken in it.
pub(crate) fn hold(weeks: &mut [Week], known: &Known<'_>) {
    let (end, index) = (known.end, &known.lessons.index);
    let shop = &end.facts.shop;
    for week in weeks {
        for (place, foretold) in week.products.iter_mut().enumerate() {
            let unit = index.products[place].unit_base;
            for span in &mut foretold.spans {
                let last = week.day + Days::new(u64::from(span.days));
                if last > end.day {
                    continue;
                }
                let (after, until) = (shop.start_of(week.day), shop.start_of(last));
                let total = known.takings.between(place, after, until);
                span.took = Some(Took {
                    amount: rounded(total.quantity / unit, 3),
                    known_share: rounded(total.known_share(), 4),
                    yardstick: total.yardstick(),
                });
            }
        }
    }
}

/// One comparison: a product in a week over a span.
struct Case<'a> {
    span: &'a ForetoldSpan,
    took: Took,
    /// What the product takes over such a span on average.
    usual: f64,
}

/// The comparisons of one span length, of products that took anything at all.
fn cases(weeks: &[Week], days: u32) -> Vec<Case<'_>> {
    let count = weeks.first().map_or(0, |week| week.products.len());
    let mut cases = Vec::new();
    for product in 0..count {
        let spans = weeks.iter().flat_map(|week| &week.products[product].spans);
        let own = spans.filter(|span| span.days == days);
        let over: Vec<(&ForetoldSpan, Took)> =
            own.filter_map(|span| Some((span, span.took?))).collect();
        let sum: f64 = over.iter().map(|(_, took)| took.amount).sum();
        let usual = sum / over.len().max(1) as f64;
        if usual > 0.0 {
            cases.extend(over.into_iter().map(|(span, took)| Case { span, took, usual }));
        }
    }
    cases
}

/// How well each span was foretold, by yardstick; what there is no case of is left out.
pub(crate) fn spans(weeks: &[Week]) -> Vec<SpanScore> {
    let mut scores = Vec::new();
    for days in SPANS_DAYS {
        let cases = cases(weeks, days);
        for yardstick in YARDSTICKS {
            let own: Vec<&Case<'_>> =
                cases.iter().filter(|case| case.took.yardstick == yardstick).collect();
            if own.is_empty() {
                continue;
            }
            scores.push(SpanScore {
                days,
                yardstick,
                cases: u32::try_from(own.len()).unwrap_or(u32::MAX),
                methods: methods(&own),
                bands: [(50, 2, 4), (80, 1, 5), (95, 0, 7)].map(|band| held(&own, band)).into(),
            });
        }
    }
    scores
}

/// Sums over cases, each in shares of what its product usually takes.
#[derive(Default)]
struct Sums {
    error: f64,
    bias: f64,
    pinball: f64,
}

impl Sums {
    fn add(&mut self, case: &Case<'_>, mean: f64, quantiles: [f64; 8]) {
        let took = case.took.amount;
        self.error += (mean - took).abs() / case.usual;
        self.bias += (mean - took) / case.usual;
        self.pinball += pinball(quantiles, took) / case.usual;
    }
}

/// Mean pinball loss of the quantiles (Koenker & Bassett 1978).
fn pinball(quantiles: [f64; 8], took: f64) -> f64 {
    let each = quantiles.iter().zip(CHANCES).map(|(quantile, chance)| {
        let above = took - quantile;
        if above >= 0.0 { chance * above } else { (chance - 1.0) * above }
    });
    each.sum::<f64>() / CHANCES.len() as f64
}

fn methods(cases: &[&Case<'_>]) -> Vec<MethodScore> {
    let taken: f64 = cases.iter().map(|case| case.took.amount / case.usual).sum();
    let share = |sum: f64| rounded(sum / taken.max(f64::MIN_POSITIVE), 4);
    let score = |method, sums: &Sums| MethodScore {
        method,
        error: share(sums.error),
        bias: share(sums.bias),
        pinball: share(sums.pinball),
    };
    let mut own = Sums::default();
    for case in cases {
        own.add(case, case.span.demand.mean, quantiles(&case.span.demand));
    }
    let mut scores = vec![score("plan", &own)];
    for (place, baseline) in plain::described().iter().enumerate() {
        let mut sums = Sums::default();
        for case in cases {
            let Some(forecast) = case.span.baselines.get(place) else { continue };
            let quantiles = CHANCES.map(|chance| plain::quantile(forecast, chance));
            sums.add(case, forecast.mean, quantiles);
        }
        scores.push(score(baseline.method, &sums));
    }
    scores
}

/// Whether a band held what it said. Where its lower end is nothing, no future lies below it, and
/// it says as much as its upper end does; where both ends are nothing it says nothing.
fn held(cases: &[&Case<'_>], (band, low, high): (u32, usize, usize)) -> BandScore {
    let (mut said, mut held, mut count) = (0.0, 0.0, 0_u32);
    for case in cases {
        let quantiles = quantiles(&case.span.demand);
        let (from, to) = (quantiles[low], quantiles[high]);
        if to <= 0.0 {
            continue;
        }
        count += 1;
        said += CHANCES[high] - if from > 0.0 { CHANCES[low] } else { 0.0 };
        held += f64::from(u8::from((from..=to).contains(&case.took.amount)));
    }
    let mean = |sum: f64| rounded(sum / f64::from(count.max(1)), 4);
    BandScore { band, said: mean(said), held: mean(held), cases: count }
}

/// How well each product was foretold over the longest span that any week has seen the end of; the
/// worst first, those that took nothing last.
pub(crate) fn products(weeks: &[Week]) -> Vec<ProductScore> {
    let is_over = |days: &u32| {
        let spans = weeks.iter().flat_map(|week| &week.products).flat_map(|one| &one.spans);
        spans.filter(|span| span.days == *days).any(|span| span.took.is_some())
    };
    let Some(days) = SPANS_DAYS.into_iter().rev().find(is_over) else { return Vec::new() };
    let count = weeks.first().map_or(0, |week| week.products.len());
    let mut scores: Vec<ProductScore> = (0..count)
        .filter_map(|product| {
            let own: Vec<&Foretold> = weeks.iter().map(|week| &week.products[product]).collect();
            of_product(&own, days)
        })
        .collect();
    scores.sort_by(|a, b| {
        let by_error = b.error.unwrap_or(-1.0).total_cmp(&a.error.unwrap_or(-1.0));
        by_error.then_with(|| a.product.cmp(&b.product))
    });
    scores
}

fn of_product(weeks: &[&Foretold], days: u32) -> Option<ProductScore> {
    let first = weeks.first()?;
    let spans = weeks.iter().flat_map(|week| &week.spans).filter(|span| span.days == days);
    let over: Vec<(&ForetoldSpan, Took)> =
        spans.filter_map(|span| Some((span, span.took?))).collect();
    let count = over.len().max(1) as f64;
    let taken: f64 = over.iter().map(|(_, took)| took.amount).sum();
    let foretold: f64 = over.iter().map(|(span, _)| span.demand.mean).sum();
    let share = |sum: f64| (taken > 0.0).then(|| rounded(sum / taken, 4));
    let off = |mean: fn(&ForetoldSpan) -> f64| -> f64 {
        over.iter().map(|(span, took)| (mean(span) - took.amount).abs()).sum()
    };
    let sheet = |span: &ForetoldSpan| span.baselines.first().map_or(0.0, |sheet| sheet.mean);
    let amount = |sum: f64| AmountIn { amount: rounded(sum / count, 3), unit: first.unit };
    let known = over.iter().filter(|(_, took)| took.yardstick == "known").count();
    Some(ProductScore {
        product: first.product.clone(),
        days,
        cases: u32::try_from(over.len()).unwrap_or(u32::MAX),
        known: u32::try_from(known).unwrap_or(u32::MAX),
        taken: amount(taken),
        foretold: amount(foretold),
        error: share(off(|span| span.demand.mean)),
        sheet_error: share(off(sheet)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Bands;
    use chrono::NaiveDate;

    /// Quantiles at 10, 20, …, 80 in the order of [`CHANCES`].
    fn span(took: f64, yardstick: &'static str) -> ForetoldSpan {
        let day = NaiveDate::default();
        let bands = Bands { p2_5: 10.0, p25: 30.0, p75: 50.0, p97_5: 80.0 };
        let demand = Demand {
            from: day,
            to: day,
            mean: 42.0,
            sd: 0.0,
            p10: 20.0,
            p50: 40.0,
            p90: 60.0,
            p95: 70.0,
            bands,
        };
        let took = Some(Took { amount: took, known_share: 1.0, yardstick });
        ForetoldSpan { days: 7, demand, baselines: Vec::new(), took }
    }

    fn weeks(spans: Vec<ForetoldSpan>) -> Vec<Week> {
        let week = |span| Week {
            day: NaiveDate::default(),
            products: vec![Foretold { product: "soap".to_owned(), unit: "mL", spans: vec![span] }],
        };
        spans.into_iter().map(week).collect()
    }

    /// Of 25 the quantiles at 10 and 20 fall short by 15 and 5, those at 30 to 80 are 5 to 55 too
    /// high: (.025·15 + .1·5 + .75·5 + .5·15 + .25·25 + .1·35 + .05·45 + .025·55) / 8 = 25.5 / 8.
    #[test]
    fn pinball_loss_by_hand() {
        let loss = pinball([10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0], 25.0);
        assert!((loss - 25.5 / 8.0).abs() < 1e-12, "{loss}");
    }

    /// 45, 25 and 90 were taken where 42 was foretold: off by 3, 17 and 48 of 160; 42·3 − 160 is
    /// 34 too little. 45 lies in every band, 25 not in the middle one, 90 in none.
    #[test]
    fn errors_and_bands_by_hand() {
        let held = spans(&weeks([45.0, 25.0, 90.0].map(|took| span(took, "known")).into()));
        let [score] = held.as_slice() else { unreachable!("one span, one yardstick") };
        assert_eq!((score.days, score.yardstick, score.cases), (7, "known", 3));
        let plan = score.methods[0];
        assert_eq!((plan.error, plan.bias), (0.425, -0.2125));
        let bands: Vec<(u32, f64, f64)> =
            score.bands.iter().map(|band| (band.band, band.said, band.held)).collect();
        assert_eq!(bands, [(50, 0.5, 0.3333), (80, 0.8, 0.6667), (95, 0.95, 0.6667)]);
    }

    #[test]
    fn what_is_estimated_stands_apart() {
        let both = spans(&weeks(vec![span(45.0, "known"), span(25.0, "estimated")]));
        let named: Vec<&str> = both.iter().map(|score| score.yardstick).collect();
        assert_eq!(named, YARDSTICKS);
    }

    /// A band from nothing up to its three-quarter point says three quarters; one that is nothing
    /// at both ends says nothing and is not counted.
    #[test]
    fn a_band_that_rests_on_nothing_says_more_than_its_name() {
        let mut rests = span(45.0, "known");
        let bands = &mut rests.demand.bands;
        (bands.p2_5, rests.demand.p10, bands.p25) = (0.0, 0.0, 0.0);
        let mut none = rests.clone();
        (none.demand.p50, none.demand.bands.p75) = (0.0, 0.0);
        let held = spans(&weeks(vec![rests, none]));
        let band = held[0].bands[0];
        assert_eq!((band.said, band.held, band.cases), (0.75, 1.0, 1));
    }
}
