//! The plan: the types of the answer, and how they are written.

pub(crate) mod json;
pub(crate) mod text;
mod types;

pub use types::*;
