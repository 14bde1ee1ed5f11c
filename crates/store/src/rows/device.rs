//! Browsers that somebody signed in with before, kept as the hashes of what they hold.

use chrono::{DateTime, Utc};

use super::table;

table!("device", {
    person: Uuid,
    hash: String,
    seen_at: DateTime<Utc>,
});
