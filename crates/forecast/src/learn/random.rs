//! Randomness: every draw has its own stream, named by what it is for. Adding a booking or a
//! product leaves the draws of all others as they were.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;

/// A stream of random numbers.
pub(crate) type Stream = Xoshiro256PlusPlus;

/// What a stream is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    UsageEffects,
    ArrivalEffects,
    Templates,
    Visits,
    Booked,
    NotBooked,
    ComesBack,
    LeadTime,
    Outstanding,
    Books,
}

/// The stream of one purpose in one future for one thing.
pub(crate) fn stream(seed: u64, purpose: Purpose, future: usize, thing: u64) -> Stream {
    let mut state = mixed(seed ^ 0x9e37_79b9_7f4a_7c15);
    state = mixed(state ^ (purpose as u64 + 1));
    state = mixed(state ^ future as u64);
    Stream::seed_from_u64(mixed(state ^ thing))
}

/// A finaliser that spreads every bit over all (constants of splitmix64, Steele et al. 2014).
const fn mixed(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A number that stands for a text (FNV-1a, 64 bits).
pub(crate) fn number_of(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}
