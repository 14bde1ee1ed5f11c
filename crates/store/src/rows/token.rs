//! Who may ask: tokens, kept as their hashes.

use chrono::{DateTime, Utc};

use super::table;

table!("token", {
    hash: String,
    scope: String,
    label: String,
    made_at: DateTime<Utc>,
    expires_at: Option<DateTime<Utc>>,
    revoked_at: Option<DateTime<Utc>>,
    made_by: Option<Uuid>,
});
