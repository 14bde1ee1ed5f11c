//! Who signs in.

use chrono::{DateTime, Utc};

use super::table;

table!("person", {
    sign_in: String,
    known_as: String,
    name: String,
    role: String,
    password_hash: String,
    made_at: DateTime<Utc>,
    ended_at: Option<DateTime<Utc>>,
});
