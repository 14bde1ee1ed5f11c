//! Lead times from deliveries, orders still out and the supplier's own word: right-censored
//! Gaussian logarithms by EM (Dempster, Laird & Rubin 1977, "Maximum likelihood from incomplete
//! data via the EM algorithm", §4.3), seen through the plan.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod simulation;

use simulation::deliveries::{learned, ordered, shop};
use simulation::{between, mean, normal, random, standard_error};

/// The supplier's word alone: a log-normal of that mean and sd, and for the next order some doubt
/// of the word itself. p90 of a log-normal with mean 5 and sd 1.5: s² = ln(1 + 0.09), m = ln 5 −
/// s²/2, e^(m + 1.2816 s) = 6.98.
#[test]
fn without_orders_the_suppliers_word_stands() {
    let said = learned(&shop(5.0, 1.5));
    assert!((said.mean - 5.0).abs() < 0.2, "{said:?}");
    assert!((6.9..7.8).contains(&said.p90), "{said:?}");
    let surer = learned(&shop(5.0, 0.5));
    assert!((surer.mean - 5.0).abs() < 0.2 && surer.p90 < said.p90, "{surer:?}");
}

#[test]
fn late_deliveries_and_orders_still_out_move_it_up_and_early_ones_down() {
    let with = |orders: &[(i64, f64)]| {
        let mut facts = shop(5.0, 1.5);
        for (days_ago, lead_days) in orders {
            ordered(&mut facts, *days_ago, *lead_days);
        }
        learned(&facts)
    };
    let word = with(&[]);
    let one_late = with(&[(60, 9.0)]);
    let three_late = with(&[(60, 9.0), (50, 9.0), (40, 9.0)]);
    let three_early = with(&[(60, 2.0), (50, 2.0), (40, 2.0)]);
    assert!(word.mean < one_late.mean && one_late.mean < three_late.mean, "{three_late:?}");
    assert!(three_late.mean < 9.0 && word.p90 < three_late.p90);
    assert!(three_early.mean < word.mean && three_early.mean > 2.0, "{three_early:?}");
    // An order that is out for a day says nothing much; for nine days it says "longer".
    let just_out = with(&[(1, 30.0)]);
    let long_out = with(&[(9, 30.0)]);
    assert!((just_out.mean - word.mean).abs() < 0.25, "{just_out:?}");
    assert!(long_out.mean > just_out.mean + 0.3 && long_out.p90 > just_out.p90, "{long_out:?}");
    // Longer than nine days says more than nine days.
    assert!(long_out.mean >= one_late.mean, "{long_out:?} {one_late:?}");
}

const SHOPS: u64 = 60;
const TRUE_MEAN: f64 = 12.0;
const TRUE_LOG_SD: f64 = 0.4;

/// One shop with so many orders over the last so many days.
fn simulated(seed: u64, orders: usize, days: f64) -> (f64, f64) {
    let mut random = random(40 + seed);
    let mut facts = shop(TRUE_MEAN, 5.0);
    for _ in 0..orders {
        let log_mean = TRUE_MEAN.ln() - TRUE_LOG_SD * TRUE_LOG_SD / 2.0;
        let lead_days = normal(&mut random, log_mean, TRUE_LOG_SD).exp();
        ordered(&mut facts, between(&mut random, 1.0, days) as i64, lead_days);
    }
    let lead = learned(&facts);
    (lead.mean, lead.p90)
}

/// Where half the orders are still out, those that came were the fast ones: a mean of them alone
/// would be several days short. e^(m + 1.2816 · 0.4) = 18.49 is the true p90.
#[test]
fn orders_still_out_are_not_left_out() {
    let (means, p90s): (Vec<f64>, Vec<f64>) =
        (0..SHOPS).map(|seed| simulated(seed, 40, 24.0)).unzip();
    println!("{:.3} se {:.3}, p90 {:.3}", mean(&means), standard_error(&means), mean(&p90s));
    assert!((mean(&means) - TRUE_MEAN).abs() < 4.0 * standard_error(&means));
    assert!((mean(&p90s) - 18.49).abs() < 4.0 * standard_error(&p90s), "{}", mean(&p90s));
}

/// Many deliveries outweigh a wrong word.
#[test]
fn many_deliveries_outweigh_a_wrong_word() {
    let mut random = random(77);
    let mut facts = shop(3.0, 0.5);
    for order in 0..200 {
        let log_mean = TRUE_MEAN.ln() - TRUE_LOG_SD * TRUE_LOG_SD / 2.0;
        ordered(&mut facts, 60 + order, normal(&mut random, log_mean, TRUE_LOG_SD).exp());
    }
    let lead = learned(&facts);
    println!("{lead:?}");
    assert!((lead.mean - TRUE_MEAN).abs() < 1.0, "{lead:?}");
    assert!((lead.p90 - 18.49).abs() < 2.0, "{lead:?}");
}
