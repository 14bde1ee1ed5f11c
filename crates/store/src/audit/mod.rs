//! Who did what.

pub(crate) mod audit_log;
