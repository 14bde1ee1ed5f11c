//! Chance: a stream of its own for each thing that is drawn, so that what one shop does more leaves
//! all other draws as they were.

use rand_distr::{Distribution, Gamma, Normal, Poisson, StandardUniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

pub(crate) type Random = Xoshiro256PlusPlus;

/// What a stream is for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum For {
    SetUp,
    Calendar,
    Job,
    Delivery,
    Habit,
    Count,
    Mishap,
}

/// The stream of one thing.
pub(crate) fn stream(seed: u64, purpose: For, thing: u64) -> Random {
    // Steele, Lea & Flood 2014 (SplitMix64): spreads neighbouring numbers apart.
    let mut mixed = seed ^ (purpose as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    for part in [thing, 0x5851_F42D_4C95_7F2D] {
        mixed = (mixed ^ part).wrapping_add(0x9E37_79B9_7F4A_7C15);
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
    }
    Random::seed_from_u64(mixed)
}

pub(crate) fn uniform(random: &mut Random) -> f64 {
    StandardUniform.sample(random)
}

pub(crate) fn between(random: &mut Random, low: f64, high: f64) -> f64 {
    low + (high - low) * uniform(random)
}

pub(crate) fn happens(random: &mut Random, chance: f64) -> bool {
    uniform(random) < chance
}

pub(crate) fn normal(random: &mut Random, mean: f64, sd: f64) -> f64 {
    Normal::new(mean, sd).map_or(mean, |normal| normal.sample(random))
}

/// A Gamma quantity of this mean and coefficient of variation.
pub(crate) fn gamma(random: &mut Random, mean: f64, cv: f64) -> f64 {
    let shape = cv.powi(-2);
    Gamma::new(shape, mean / shape).map_or(mean, |gamma| gamma.sample(random))
}

pub(crate) fn poisson(random: &mut Random, mean: f64) -> u32 {
    let drawn: f64 = Poisson::new(mean).map_or(0.0, |poisson| poisson.sample(random));
    drawn as u32
}

/// A place, with these chances.
pub(crate) fn choose(random: &mut Random, chances: &[f64]) -> usize {
    let mut left = uniform(random) * chances.iter().sum::<f64>();
    for (place, chance) in chances.iter().enumerate() {
        left -= chance;
        if left < 0.0 {
            return place;
        }
    }
    chances.len() - 1
}

/// One of a list.
pub(crate) fn pick<T: Copy>(random: &mut Random, list: &[T]) -> T {
    list[((uniform(random) * list.len() as f64) as usize).min(list.len() - 1)]
}
