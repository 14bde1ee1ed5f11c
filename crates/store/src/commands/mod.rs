//! What changes a shop, each whole or not at all.

pub(crate) mod execute;
pub(crate) mod import;
pub(crate) mod jobs;
pub(crate) mod orders;
pub(crate) mod reverse;
pub(crate) mod revert_setup;
pub(crate) mod setup;
pub(crate) mod undo;
