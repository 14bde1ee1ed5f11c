//! Draws, all from one seeded generator.

use rand::RngExt;
use rand_distr::{Distribution, Gamma, Normal, Poisson};

/// The generator that every draw comes from.
pub type Rng = rand_xoshiro::Xoshiro256PlusPlus;

/// Gamma by its mean and coefficient of variation.
pub fn gamma(rng: &mut Rng, mean: f64, cv: f64) -> f64 {
    let shape = 1.0 / (cv * cv);
    Gamma::new(shape, mean / shape).map_or(mean, |law| law.sample(rng))
}

/// Normal.
pub fn normal(rng: &mut Rng, mean: f64, sd: f64) -> f64 {
    Normal::new(mean, sd).map_or(mean, |law| law.sample(rng))
}

/// Poisson.
pub fn poisson(rng: &mut Rng, mean: f64) -> u32 {
    Poisson::new(mean).map_or(0, |law| law.sample(rng) as u32)
}

/// A place in `weights`, each as likely as its weight.
pub fn weighted(rng: &mut Rng, weights: &[u32]) -> usize {
    let mut left = rng.random_range(0..weights.iter().sum::<u32>().max(1));
    for (place, &weight) in weights.iter().enumerate() {
        if left < weight {
            return place;
        }
        left -= weight;
    }
    0
}

/// One of a list that is not empty.
pub fn pick<T: Copy>(rng: &mut Rng, list: &[T]) -> T {
    list[rng.random_range(0..list.len())]
}
