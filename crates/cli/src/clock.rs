//! The one place where the clock is read.

use chrono::{DateTime, Utc};

/// Now.
#[must_use]
pub fn now() -> DateTime<Utc> {
    Utc::now()
}
