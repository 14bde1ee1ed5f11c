//! How the copies fare that a service makes by itself, for whatever watches over it.

use std::sync::atomic::{AtomicI64, AtomicU64, Ordering::Relaxed};

use chrono::{DateTime, Utc};

/// How scheduled copies fare. Nothing of it is kept beyond the process.
#[derive(Debug, Default)]
pub struct BackupStatus {
    made: AtomicU64,
    failed: AtomicU64,
    /// Seconds since 1970; 0 where none was made.
    last_made: AtomicI64,
    last_failed: AtomicI64,
}

impl BackupStatus {
    /// A copy was made, and is well.
    pub fn succeeded(&self, now: DateTime<Utc>) {
        self.made.fetch_add(1, Relaxed);
        self.last_made.store(now.timestamp(), Relaxed);
        self.last_failed.store(0, Relaxed);
    }

    /// A copy that was due was not made.
    pub fn failed(&self, now: DateTime<Utc>) {
        self.failed.fetch_add(1, Relaxed);
        self.last_failed.store(now.timestamp(), Relaxed);
    }

    /// How many were made and how many were not, since the service started.
    #[must_use]
    pub fn counts(&self) -> (u64, u64) {
        (self.made.load(Relaxed), self.failed.load(Relaxed))
    }

    /// When the last was made, in seconds since 1970; nothing where none was since the start.
    #[must_use]
    pub fn last_made(&self) -> Option<i64> {
        Some(self.last_made.load(Relaxed)).filter(|at| *at != 0)
    }

    /// Whether the last one that was due was not made.
    #[must_use]
    pub fn is_failing(&self) -> bool {
        self.last_failed.load(Relaxed) != 0
    }
}
