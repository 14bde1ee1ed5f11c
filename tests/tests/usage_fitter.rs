//! The fitter against scikit-learn and statsmodels (fixtures of `scripts/reference`), and the sum
//! estimator against itself where sums are split.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use capful_forecast::fitter::{Censoring, Family, Fit, FitSettings, Prior, Sums, Term, fit};
use serde_json::Value;

fn fixture(name: &str) -> Value {
    let path = format!("{}/fixtures/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn rows(case: &Value) -> (Vec<Vec<f64>>, Vec<f64>) {
    (case["x"].as_array().unwrap().iter().map(numbers).collect(), numbers(&case["y"]))
}

/// The intercept is the first effect, with a prior so wide that it says nothing.
fn with_intercept(x: &[f64]) -> Vec<(usize, f64)> {
    let others = x.iter().enumerate().map(|(place, x)| (place + 1, *x));
    std::iter::once((0, 1.0)).chain(others).collect()
}

fn plain(family: Family, dispersion: f64) -> FitSettings {
    FitSettings { family, dispersion, dispersion_worth: f64::INFINITY, bound: f64::INFINITY }
}

fn fit_case(case: &Value, family: Family) -> Fit {
    let (x, y) = rows(case);
    let mut sums = Sums::default();
    for (x, y) in x.iter().zip(&y) {
        sums.term(Term::new(0.0), &with_intercept(x));
        sums.observe(*y, 0.0, 1.0);
    }
    let sd = case["prior_sd"].as_f64().unwrap_or(1e6);
    let width = x[0].len();
    let mut prior = Prior { mean: vec![0.0; width + 1], sd: vec![sd; width + 1] };
    prior.sd[0] = 1e7;
    fit(&sums, &prior, &plain(family, case["phi"].as_f64().unwrap_or(1.0))).unwrap()
}

fn assert_agrees(case: &Value, fitted: &Fit, tolerance: f64) {
    let mut expected = vec![case["intercept"].as_f64().unwrap()];
    expected.extend(numbers(&case["coef"]));
    for (ours, theirs) in fitted.b.iter().zip(&expected) {
        assert!((ours - theirs).abs() < tolerance, "{}: {ours} against {theirs}", case["name"]);
    }
}

/// scikit-learn 1.9.1, `TweedieRegressor(power=2, link="log")`.
#[test]
fn where_every_sum_is_one_term_it_is_the_gamma_glm_of_scikit_learn() {
    for case in fixture("gamma_glm")["cases"].as_array().unwrap() {
        assert_agrees(case, &fit_case(case, Family::Gamma), 1e-6);
    }
}

/// scikit-learn 1.9.1, `TweedieRegressor(power=1, link="log")`.
#[test]
fn the_poisson_family_is_the_poisson_glm_of_scikit_learn() {
    for case in fixture("poisson_glm")["cases"].as_array().unwrap() {
        assert_agrees(case, &fit_case(case, Family::Poisson), 1e-6);
    }
}

/// statsmodels 0.15.0, `GLM(family=Poisson())`: estimates and standard errors.
#[test]
fn the_calendar_fit_agrees_with_statsmodels() {
    let case = &fixture("poisson_glm")["calendar"];
    let fitted = fit_case(case, Family::Poisson);
    assert_agrees(case, &fitted, 1e-6);
    for (place, theirs) in numbers(&case["standard_errors"]).iter().enumerate() {
        let ours = fitted.covariance[[place, place]].sqrt();
        assert!((ours / theirs - 1.0).abs() < 1e-5, "{place}: {ours} against {theirs}");
    }
}

/// Sums of known units with no noise give the units back: three unknowns, sums of several.
#[test]
fn sums_give_the_units_back() {
    let means = [40.0_f64, 75.0, 12.0];
    let counts = [[3, 1, 0], [0, 2, 5], [4, 0, 1], [1, 1, 1], [2, 5, 0], [0, 0, 3]];
    let mut sums = Sums::default();
    for row in counts {
        let mut seen = 0.0;
        for (unit, count) in row.iter().enumerate() {
            for _ in 0..*count {
                sums.term(Term::new(0.0), &[(unit, 1.0)]);
                seen += means[unit];
            }
        }
        sums.observe(seen, 0.0, 1.0);
    }
    let prior = Prior { mean: vec![3.0; 3], sd: vec![1e4; 3] };
    let fitted = fit(&sums, &prior, &plain(Family::Gamma, 0.1)).unwrap();
    for (b, mean) in fitted.b.iter().zip(means) {
        assert!((b.exp() / mean - 1.0).abs() < 1e-6, "{} against {mean}", b.exp());
    }
}

/// Logarithm of the likelihood of normal observations of one mean `exp(b)` with a known sd, some of
/// them known by a limit only (Tobin 1958).
fn tobins(b: f64, sd: f64, seen: &[(f64, Censoring)]) -> f64 {
    use statrs::distribution::{Continuous, ContinuousCDF, Normal};
    let normal = Normal::new(b.exp(), sd).unwrap();
    let one = |(seen, censoring): &(f64, Censoring)| match censoring {
        Censoring::None => normal.ln_pdf(*seen),
        Censoring::AtMost => normal.cdf(*seen).ln(),
        Censoring::AtLeast => normal.sf(*seen).ln(),
    };
    seen.iter().map(one).sum()
}

/// Where the variance is known, what is found of observations that are known by a limit only is
/// where Tobin's likelihood is highest.
#[test]
fn limits_are_fitted_as_tobin_has_it() {
    use Censoring::{AtLeast, AtMost, None};
    let sd = 15.0;
    let cases: [&[(f64, Censoring)]; 4] = [
        &[(100.0, None), (90.0, AtMost), (80.0, AtMost)],
        &[(100.0, None), (110.0, AtLeast), (95.0, AtLeast)],
        &[(90.0, AtLeast), (120.0, AtMost)],
        &[(60.0, None), (130.0, AtLeast), (40.0, AtMost), (85.0, AtLeast)],
    ];
    for seen in cases {
        let mut sums = Sums::default();
        for (limit, censoring) in seen {
            sums.term(Term { offset: 0.0, per_phi: 0.0, extra: 0.0 }, &[(0, 1.0)]);
            sums.observe_limit(*limit, sd * sd, 1.0, *censoring);
        }
        let prior = Prior { mean: vec![90_f64.ln()], sd: vec![1e6] };
        let b = fit(&sums, &prior, &plain(Family::Gamma, 0.1)).unwrap().b[0];
        let best = tobins(b, sd, seen);
        for step in [1e-3, 1e-2, 0.1] {
            assert!(best > tobins(b - step, sd, seen), "{seen:?}: lower than {}", b.exp());
            assert!(best > tobins(b + step, sd, seen), "{seen:?}: higher than {}", b.exp());
        }
    }
}

/// One wild observation of thirty moves a bounded fit by less than a tenth of what it moves an
/// unbounded one.
#[test]
fn a_spill_hardly_moves_a_bounded_fit() {
    let estimate = |bound: f64, spill: bool| {
        let mut sums = Sums::default();
        for place in 0..30 {
            sums.term(Term::new(0.0), &[(0, 1.0)]);
            let seen = 50.0 + 10.0 * f64::from(place % 3 - 1);
            sums.observe(if spill && place == 7 { 1000.0 } else { seen }, 0.0, 1.0);
        }
        let prior = Prior { mean: vec![50_f64.ln()], sd: vec![0.5] };
        let settings = FitSettings { dispersion_worth: 8.0, bound, ..plain(Family::Gamma, 0.1225) };
        fit(&sums, &prior, &settings).unwrap().b[0].exp()
    };
    let moved = |bound: f64| (estimate(bound, true) / estimate(bound, false) - 1.0).abs();
    assert!(moved(3.0) < 0.05, "{}", moved(3.0));
    assert!(moved(3.0) < 0.1 * moved(f64::INFINITY));
}

/// A prior that does not fit the effects, or says nothing usable, is refused.
#[test]
fn a_wrong_prior_is_refused() {
    let mut sums = Sums::default();
    sums.term(Term::new(0.0), &[(2, 1.0)]);
    sums.observe(1.0, 0.0, 1.0);
    let short = Prior { mean: vec![0.0; 2], sd: vec![1.0; 2] };
    assert!(fit(&sums, &short, &plain(Family::Gamma, 1.0)).is_err());
    let flat = Prior { mean: vec![0.0; 3], sd: vec![1.0, 0.0, 1.0] };
    assert!(fit(&sums, &flat, &plain(Family::Gamma, 1.0)).is_err());
}
