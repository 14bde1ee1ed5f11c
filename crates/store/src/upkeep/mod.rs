//! Copies, moves, new versions, and what is thrown away in time.

pub(crate) mod backup;
pub(crate) mod backup_keep;
pub(crate) mod erase;
pub(crate) mod inspect;
pub(crate) mod install;
pub(crate) mod migrate;
pub(crate) mod relocate;
pub(crate) mod restore;
pub(crate) mod retention;
pub(crate) mod steps;
pub(crate) mod transfer;
