//! What crosses crates is tested here; see `tests/`.
