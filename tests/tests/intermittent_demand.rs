//! The backtest's plain forecasts against statsforecast, on seeded series of period demand.
//!
//! The fixture is `fixtures/intermittent.json`, by `scripts/reference/intermittent.py`.

#![allow(clippy::unwrap_used)]

use capful_forecast::baseline::{
    BaselineError, Smoothing, croston, moving_average, simple_exponential_smoothing,
    syntetos_boylan, teunter_syntetos_babai,
};
use serde_json::Value;

/// The library smooths in double precision; the order of its sums may differ.
const TOLERANCE: f64 = 1e-12;

#[track_caller]
fn close(found: f64, expected: f64) {
    let allowed = TOLERANCE * expected.abs().max(1.0);
    assert!((found - expected).abs() <= allowed, "found {found}, expected {expected}");
}

fn fixture() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/intermittent.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// Each case of the fixture with its demand, through `check`.
fn each_case(check: impl Fn(&[f64], &Value)) {
    let fixture = fixture();
    let cases = fixture["cases"].as_array().unwrap();
    assert!(cases.len() >= 8);
    for case in cases {
        let demand = case["demand"].as_array().unwrap();
        let demand: Vec<f64> = demand.iter().map(|value| value.as_f64().unwrap()).collect();
        check(&demand, case);
    }
}

fn weight(name: &str) -> Smoothing {
    Smoothing::new(fixture()[name].as_f64().unwrap()).unwrap()
}

fn by_hand() -> [f64; 12] {
    [0.0, 0.0, 5.0, 0.0, 3.0, 0.0, 0.0, 0.0, 4.0, 2.0, 0.0, 6.0]
}

#[test]
fn croston_1972_worked_by_hand() {
    // Size level 4.6032 by interval level 2.7281, both with α 0.1; the same by statsforecast.
    let tenth = Smoothing::new(0.1).unwrap();
    close(croston(&by_hand(), tenth).unwrap(), 4.6032 / 2.7281);
    close(croston(&by_hand(), tenth).unwrap(), 1.6873281771196071);
}

#[test]
fn syntetos_boylan_2005_takes_half_the_weight_off() {
    let tenth = Smoothing::new(0.1).unwrap();
    close(syntetos_boylan(&by_hand(), tenth).unwrap(), 1.6029617682636268);
}

#[test]
fn teunter_syntetos_babai_2011_worked_by_hand() {
    let (size, chance) = (Smoothing::new(0.2).unwrap(), Smoothing::new(0.1).unwrap());
    let found = teunter_syntetos_babai(&by_hand(), size, chance).unwrap();
    close(found, 1.4937176129020802);
}

#[test]
fn statsforecast_croston_and_syntetos_boylan() {
    let alpha = weight("croston_alpha");
    each_case(|demand, case| {
        close(croston(demand, alpha).unwrap(), case["croston"].as_f64().unwrap());
        let corrected = case["syntetos_boylan"].as_f64().unwrap();
        close(syntetos_boylan(demand, alpha).unwrap(), corrected);
    });
}

#[test]
fn statsforecast_teunter_syntetos_babai() {
    let (size, chance) = (weight("tsb_size_alpha"), weight("tsb_chance_alpha"));
    each_case(|demand, case| {
        let expected = case["teunter_syntetos_babai"].as_f64().unwrap();
        close(teunter_syntetos_babai(demand, size, chance).unwrap(), expected);
    });
}

#[test]
fn statsforecast_simple_exponential_smoothing() {
    let alpha = weight("ses_alpha");
    each_case(|demand, case| {
        let expected = case["simple_exponential_smoothing"].as_f64().unwrap();
        close(simple_exponential_smoothing(demand, alpha).unwrap(), expected);
    });
}

#[test]
fn statsforecast_moving_average() {
    let window = fixture()["window"].as_u64().unwrap() as usize;
    each_case(|demand, case| {
        let expected = case["moving_average"].as_f64().unwrap();
        close(moving_average(demand, window).unwrap(), expected);
    });
    // Fewer periods than the window: those there are.
    close(moving_average(&[2.0, 4.0], window).unwrap(), 3.0);
}

#[test]
fn a_product_never_used_is_forecast_at_nothing() {
    let alpha = Smoothing::new(0.1).unwrap();
    let never = [0.0; 6];
    assert_eq!(croston(&never, alpha).unwrap(), 0.0);
    assert_eq!(syntetos_boylan(&never, alpha).unwrap(), 0.0);
    assert_eq!(teunter_syntetos_babai(&never, alpha, alpha).unwrap(), 0.0);
    assert_eq!(simple_exponential_smoothing(&never, alpha).unwrap(), 0.0);
    assert_eq!(moving_average(&never, 3).unwrap(), 0.0);
}

#[test]
fn what_is_no_history_is_refused() {
    let alpha = Smoothing::new(0.1).unwrap();
    assert_eq!(croston(&[], alpha), Err(BaselineError::NoHistory));
    assert_eq!(moving_average(&[1.0], 0), Err(BaselineError::NoWindow));
    let negative = BaselineError::Demand { period: 1, value: -2.0 };
    assert_eq!(simple_exponential_smoothing(&[1.0, -2.0], alpha), Err(negative));
    assert!(teunter_syntetos_babai(&[f64::NAN], alpha, alpha).is_err());
    for weight in [0.0, 1.1, -0.1, f64::NAN] {
        assert!(Smoothing::new(weight).is_err());
    }
}
