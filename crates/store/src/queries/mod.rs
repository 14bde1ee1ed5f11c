//! What is read: lists, and everything of a shop.

pub(crate) mod facts;
pub(crate) mod latest;
pub(crate) mod listing;
