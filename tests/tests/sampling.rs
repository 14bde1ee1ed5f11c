//! Sampling against scipy's distribution functions (`distributions.json`, `scripts/reference`):
//! Gamma draws as one job's usage takes them, and negative-binomial draws as visits are drawn, a
//! Poisson number with a Gamma rate.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod simulation;

use rand_distr::{Distribution, Gamma, Poisson};
use serde_json::Value;
use simulation::{Random, mean};

const DRAWS: usize = 20_000;

fn cases(name: &str) -> Vec<Value> {
    let path = format!("{}/fixtures/distributions.json", env!("CARGO_MANIFEST_DIR"));
    let fixture: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    fixture[name].as_array().unwrap().clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// The largest distance of the draws' distribution from scipy's, where the fixture has it, stays
/// below what 999 of 1000 samples do.
fn assert_distributed(case: &Value, draws: &[f64]) {
    let share_up_to = |x: f64| draws.iter().filter(|d| **d <= x).count() as f64 / DRAWS as f64;
    let (at, cdf) = (numbers(&case["at"]), numbers(&case["cdf"]));
    assert!(at.len() >= 5, "{case}");
    let distances = at.iter().zip(&cdf).map(|(x, chance)| (share_up_to(*x) - chance).abs());
    let (distance, bound) = (distances.fold(0.0, f64::max), simulation::distance_bound(DRAWS));
    assert!(distance < bound, "{distance} over {bound}: {case}");
    for (chance, quantile) in numbers(&case["chances"]).iter().zip(numbers(&case["quantiles"])) {
        // Of whole numbers, the chance lies between those below and those up to the quantile.
        let below = draws.iter().filter(|d| **d < quantile).count() as f64 / DRAWS as f64;
        let up_to = share_up_to(quantile);
        assert!(below - chance < bound && chance - up_to < bound, "{chance} at {quantile}: {case}");
    }
}

/// A quantity with mean `shape · scale` whose coefficient of variation is √φ: shape 1/φ about 1,
/// then times the mean.
fn a_jobs_usage(random: &mut Random, mean: f64, phi: f64) -> f64 {
    let shape = 1.0 / phi;
    mean * Gamma::new(shape, 1.0 / shape).unwrap().sample(random)
}

/// Visits of a day with this mean and variance φ · mean.
fn a_days_visits(random: &mut Random, rate: f64, phi: f64) -> f64 {
    let spread = phi - 1.0;
    let drawn = Gamma::new(rate / spread, spread).unwrap().sample(random);
    Poisson::new(drawn.max(1e-9)).unwrap().sample(random)
}

#[test]
fn a_jobs_usage_is_gamma_as_scipy_has_it() {
    for (seed, case) in cases("gamma").iter().enumerate() {
        let mut random = simulation::random(seed as u64 + 1);
        let (shape, scale) = (number(&case["shape"]), number(&case["scale"]));
        let draw = |_| a_jobs_usage(&mut random, shape * scale, 1.0 / shape);
        let draws: Vec<f64> = (0..DRAWS).map(draw).collect();
        assert_distributed(case, &draws);
    }
}

/// scipy's `nbinom(n, p)` has mean n(1 − p)/p and variance mean/p.
#[test]
fn a_days_visits_are_negative_binomial_as_scipy_has_it() {
    for (seed, case) in cases("negative_binomial").iter().enumerate() {
        let mut random = simulation::random(seed as u64 + 101);
        let (successes, chance) = (number(&case["successes"]), number(&case["chance"]));
        let (rate, phi) = (successes * (1.0 - chance) / chance, 1.0 / chance);
        let draws: Vec<f64> = (0..DRAWS).map(|_| a_days_visits(&mut random, rate, phi)).collect();
        assert_distributed(case, &draws);
        let error = (phi * rate / DRAWS as f64).sqrt();
        assert!((mean(&draws) - rate).abs() < 4.0 * error, "{case}");
    }
}

/// The distance tells distributions apart: a seventh more variance is seen.
#[test]
#[should_panic(expected = "over")]
fn a_wrong_spread_is_seen() {
    let case = &cases("gamma")[2];
    let mut random = simulation::random(1);
    let (shape, scale) = (number(&case["shape"]), number(&case["scale"]));
    let draw = |_| a_jobs_usage(&mut random, shape * scale, 1.15 / shape);
    let draws: Vec<f64> = (0..DRAWS).map(draw).collect();
    assert_distributed(case, &draws);
}
