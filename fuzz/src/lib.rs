//! What the fuzz targets do, each a function of bytes that panics where something does not hold.
//!
//! The targets themselves, in `fuzz_targets/`, only hand the bytes over. The workspace's own tests
//! take these files in as they are and feed them the committed corpora, so that each run of the
//! tests holds what a fuzz run once found.

pub mod cells;
pub mod folder;
#[cfg(feature = "service")]
pub mod service;
#[cfg(feature = "service")]
pub mod settings;
