//! The answers that were given, by the key of the request.

use chrono::{DateTime, Utc};

use super::table;

table!("idempotency", {
    own_id: String,
    fingerprint: String,
    status: i64,
    body: String,
    made_at: DateTime<Utc>,
});
