//! When a write was last proven, and whether one failed since.

use std::sync::atomic::{AtomicBool, AtomicI64, Ordering::SeqCst};

use chrono::{DateTime, TimeDelta, Utc};

/// A commit proves for so long that the next one can be made.
const PROVEN: TimeDelta = TimeDelta::seconds(5);

/// When a write was last proven, and whether one failed since.
#[derive(Debug)]
pub(crate) struct WriteHealth {
    proven_at_us: AtomicI64,
    has_failed: AtomicBool,
    pub(crate) proving: tokio::sync::Mutex<()>,
}

impl Default for WriteHealth {
    fn default() -> Self {
        Self {
            proven_at_us: AtomicI64::new(i64::MIN),
            has_failed: AtomicBool::new(false),
            proving: tokio::sync::Mutex::default(),
        }
    }
}

impl WriteHealth {
    /// Notes a commit.
    pub(crate) fn proven(&self, now: DateTime<Utc>) {
        self.proven_at_us.fetch_max(now.timestamp_micros(), SeqCst);
        self.has_failed.store(false, SeqCst);
    }

    /// Notes a write that the database did not take.
    pub(crate) fn failed(&self) {
        self.has_failed.store(true, SeqCst);
    }

    /// Whether the last write was not taken.
    pub(crate) fn has_failed(&self) -> bool {
        self.has_failed.load(SeqCst)
    }

    /// Whether a commit was made lately, and none failed since.
    pub(crate) fn is_proven(&self, now: DateTime<Utc>) -> bool {
        let fresh = now.timestamp_micros().checked_sub(self.proven_at_us.load(SeqCst));
        let fresh = fresh.is_some_and(|age| TimeDelta::microseconds(age).abs() < PROVEN);
        fresh && !self.has_failed.load(SeqCst)
    }
}
