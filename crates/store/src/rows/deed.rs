//! Who did what.

use chrono::{DateTime, Utc};

use super::table;

table!("deed", {
    at: DateTime<Utc>,
    by_kind: String,
    by_id: Option<Uuid>,
    what: String,
    about: String,
    written: String,
    undone_at: Option<DateTime<Utc>>,
});
