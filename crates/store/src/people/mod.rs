//! Who signs in, and the programs that hold a token.

pub(crate) mod accounts;
pub(crate) mod devices;
pub(crate) mod sessions;
pub(crate) mod sign_in_tries;
pub(crate) mod tokens;
pub(crate) mod wrong_sign_ins;
