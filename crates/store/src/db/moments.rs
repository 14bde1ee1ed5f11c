//! Moments as both databases keep them: to the microsecond.

use chrono::{DateTime, SubsecRound, TimeDelta, Utc};

/// The least that two moments are apart.
pub(crate) const RESOLUTION: TimeDelta = TimeDelta::microseconds(1);

/// A moment without what is finer than a microsecond.
pub(crate) fn kept(at: DateTime<Utc>) -> DateTime<Utc> {
    at.trunc_subsecs(6)
}
