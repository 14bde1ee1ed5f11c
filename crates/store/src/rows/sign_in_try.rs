//! How often a wrong password was given, by the name, the address or the device it was given at.

use chrono::{DateTime, Utc};

use super::table;

table!("sign_in_try", {
    failures: i64,
    may_try_at: Option<DateTime<Utc>>,
    last_at: DateTime<Utc>,
});
