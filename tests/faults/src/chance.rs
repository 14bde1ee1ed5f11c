//! Chance from a seed: the same seed draws the same requests and the same faults.

use rand::{Rng, RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A stream of chance.
#[derive(Debug, Clone)]
pub struct Chance(Xoshiro256PlusPlus);

impl Chance {
    /// The stream of a seed; others of the same seed by their number.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mixed = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ stream.rotate_left(32);
        Self(Xoshiro256PlusPlus::seed_from_u64(mixed))
    }

    /// A number of a range, its end excluded.
    pub fn from(&mut self, range: std::ops::Range<u64>) -> u64 {
        self.0.random_range(range)
    }

    /// Whether something of this many in a hundred happens.
    pub fn percent(&mut self, percent: u64) -> bool {
        self.from(0..100) < percent
    }

    /// One of these.
    pub fn one<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[usize::try_from(self.from(0..all.len() as u64)).unwrap()]
    }

    /// Any 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }
}
