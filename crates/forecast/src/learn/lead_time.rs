//! Lead time: days from placing an order to having it on the shelf.
//!
//! The logarithm of a supplier's lead time is Gaussian. What the supplier says is worth a few
//! orders; each delivery moves it; an order still out says "longer than this", and counts with the
//! mean and spread it has beyond that (EM for right-censored Gaussian data; Dempster, Laird & Rubin
//! 1977, §4.3).

use capful_domain::{Id, Snapshot};
use rand_distr::{Distribution, StandardNormal, StandardUniform};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use crate::learn::index::float;
use crate::learn::random::{Purpose, number_of, stream};

/// Orders that the supplier's own word is worth.
const WORD_WORTH: f64 = 3.0;
/// Coefficient of variation where the supplier says nothing of it.
const USUAL_SPREAD: f64 = 0.3;
/// Same day, as the logarithm sees it.
const LEAST_DAYS: f64 = 0.4;
/// Times its usual lead after which an order that has not come is taken to be lost.
const LOST_AFTER: f64 = 6.0;

/// One supplier's lead time.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LeadTime {
    pub supplier: Id,
    /// Mean and standard deviation of its logarithm (of the next one, so that what is not known
    /// of the mean counts).
    pub log_mean: f64,
    pub log_sd: f64,
    /// Orders that should have come long ago.
    pub lost: Vec<Id>,
}

impl LeadTime {
    /// Learns one supplier's lead time.
    pub fn learn(snapshot: &Snapshot, supplier: &capful_domain::Supplier) -> Self {
        let word = float(supplier.lead_days).max(LEAST_DAYS);
        let spread = supplier.lead_days_sd.map_or(USUAL_SPREAD, |sd| float(sd) / word);
        let prior_variance = spread.max(0.05).powi(2).ln_1p();
        let prior_mean = word.ln() - prior_variance / 2.0;
        let shop = &snapshot.facts.shop;
        let (mut came, mut out, mut lost) = (Vec::new(), Vec::new(), Vec::new());
        for delivery in snapshot.orders.deliveries.iter().filter(|d| d.supplier == supplier.id) {
            let placed = shop.day_of(delivery.placed_at);
            let end = delivery.first_receipt_at.map_or(snapshot.day, |at| shop.day_of(at));
            let days = (end - placed).num_days() as f64;
            match delivery.first_receipt_at {
                Some(_) => came.push(days.max(LEAST_DAYS).ln()),
                None if days > LOST_AFTER * word + 14.0 => lost.push(delivery.order.clone()),
                None if days >= 1.0 => out.push(days.ln()),
                None => {}
            }
        }
        let (mean, variance) = censored(&came, &out, prior_mean, prior_variance);
        let worth = WORD_WORTH + came.len() as f64;
        Self {
            supplier: supplier.id.clone(),
            log_mean: mean,
            log_sd: (variance * (1.0 + 1.0 / worth)).sqrt(),
            lost,
        }
    }

    /// Mean, in days.
    pub fn mean(&self) -> f64 {
        (self.log_mean + self.log_sd.powi(2) / 2.0).exp()
    }

    /// Days that it stays below with this chance.
    pub fn quantile(&self, chance: f64) -> f64 {
        (self.log_mean + self.log_sd * standard().inverse_cdf(chance)).exp()
    }

    /// Whole days of the `which`th order from now on, in a future.
    pub fn draw(&self, seed: u64, future: usize, which: u64) -> i32 {
        let thing = number_of(self.supplier.as_str()) ^ which;
        let mut random = stream(seed, Purpose::LeadTime, future, thing);
        let z: f64 = StandardNormal.sample(&mut random);
        whole_days((self.log_mean + self.log_sd * z).exp())
    }

    /// Whole days still to wait for an order placed `age` days ago, in a future; of today so much
    /// is still to come (0 to 1).
    pub fn draw_rest(
        &self,
        seed: u64,
        future: usize,
        order: &Id,
        age: f64,
        today_left: f64,
    ) -> i32 {
        let thing = number_of(order.as_str());
        let mut random = stream(seed, Purpose::Outstanding, future, thing);
        let u: f64 = StandardUniform.sample(&mut random);
        let past = if age < 0.5 { 0.0 } else { self.chance_below(age + 0.5 - today_left) };
        let chance = (past + u * (1.0 - past)).clamp(1e-9, 1.0 - 1e-9);
        let total =
            if past > 0.999_9 { age + 1.0 + 0.5 * self.mean() * u } else { self.quantile(chance) };
        whole_days(total - age).max(0)
    }

    fn chance_below(&self, days: f64) -> f64 {
        standard().cdf((days.ln() - self.log_mean) / self.log_sd)
    }
}

#[allow(clippy::cast_possible_truncation)] // bounded just before
fn whole_days(days: f64) -> i32 {
    days.round().clamp(0.0, 3650.0) as i32
}

fn standard() -> Normal {
    Normal::standard()
}

/// Mean and variance from what came, what is still out, and the prior.
fn censored(came: &[f64], out: &[f64], prior_mean: f64, prior_variance: f64) -> (f64, f64) {
    let (mut mean, mut variance) = (prior_mean, prior_variance);
    let count = WORD_WORTH + (came.len() + out.len()) as f64;
    for _ in 0..50 {
        let sd = variance.sqrt();
        let beyond: Vec<(f64, f64)> = out.iter().map(|age| tail(mean, sd, *age)).collect();
        let sum = WORD_WORTH * prior_mean
            + came.iter().sum::<f64>()
            + beyond.iter().map(|(m, _)| m).sum::<f64>();
        let next = sum / count;
        let squares = WORD_WORTH * (prior_variance + (prior_mean - next).powi(2))
            + came.iter().map(|x| (x - next).powi(2)).sum::<f64>()
            + beyond.iter().map(|(m, v)| v + (m - next).powi(2)).sum::<f64>();
        let moved = (next - mean).abs();
        (mean, variance) = (next, squares / count);
        if moved < 1e-10 {
            break;
        }
    }
    (mean, variance.max(0.05_f64.powi(2)))
}

/// Mean and variance of a Gaussian beyond `from` (Johnson, Kotz & Balakrishnan, *Continuous
/// Univariate Distributions* 1, §13.10).
fn tail(mean: f64, sd: f64, from: f64) -> (f64, f64) {
    let z = (from - mean) / sd;
    let beyond = standard().sf(z);
    if beyond < 1e-9 {
        return (from + sd * 0.1, (0.1 * sd).powi(2));
    }
    let hazard = standard().pdf(z) / beyond;
    let variance = sd * sd * (1.0 + z * hazard - hazard * hazard);
    (mean + sd * hazard, variance.max(0.0))
}
