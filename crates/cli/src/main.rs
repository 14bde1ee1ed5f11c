//! The capful program.
fn main() {}
