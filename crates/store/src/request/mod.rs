//! What is asked, by whom, and how it is known again.

pub(crate) mod change;
pub(crate) mod cut_moments;
pub(crate) mod idempotency;
pub(crate) mod setup_version;
pub(crate) mod write_context;
