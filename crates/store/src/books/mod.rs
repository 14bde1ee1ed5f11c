//! Containers and movements: posted, posted again, added up.

pub(crate) mod check;
pub(crate) mod current_state;
pub(crate) mod live_entry;
pub(crate) mod posting;
pub(crate) mod rebuild;
pub(crate) mod replay;
pub(crate) mod shelf;
