//! Who is signed in, kept as the hashes of what their browsers hold.

use chrono::{DateTime, Utc};

use super::table;

table!("session", {
    person: Uuid,
    hash: String,
    made_at: DateTime<Utc>,
    expires_at: DateTime<Utc>,
    ended_at: Option<DateTime<Utc>>,
    device: String,
    address: String,
    seen_at: Option<DateTime<Utc>>,
    confirmed_at: Option<DateTime<Utc>>,
});
