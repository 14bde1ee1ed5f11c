//! Deeds: who did what, the last first.

use axum::Json;
use axum::extract::State;
use capful_store::{AuditEntry, By, Scope};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{Cursor, Limit, Page};
use crate::params::{Params, parsed};
use crate::problem::Problem;
use crate::schema;

/// Something that was done to the shop.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct DeedRow {
    /// What it is undone by.
    pub id: String,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// By whom.
    pub by: ByRow,
    /// What it was: `job-booked`, `job-changed`, `job-started`, `job-cancelled`, `job-finished`,
    /// `poured`, `opened`, `mixed`, `discarded`, `counted`, `received`, `order-placed`,
    /// `order-changed`, `reversed`, `undone`, `product`, `supplier`, `offer`, `job-type`,
    /// `usage-sheet`, `shop`, `imported`, `person-added`, `person-changed`, `password-set`,
    /// `person-ended`, `token-made`, `token-revoked`, `sign-in-wrong`, `sign-in-unlocked`,
    /// `signed-out` or `vehicle-erased`.
    #[schema(example = "job-finished")]
    pub what: &'static str,
    /// The id of what it was done to; several products or jobs with `, ` between, of `undone` the
    /// id of what was undone, of a person or a token theirs; empty where it is the whole shop, or a
    /// name that nobody signs in with.
    pub of: String,
    /// When it was undone.
    pub undone_at: Option<DateTime<Utc>>,
    /// Whether it is of a kind that can be undone, and was not.
    pub can_be_undone: bool,
    /// How many wrong sign-ins there were in that quarter of an hour, where it is of these.
    pub times: Option<u64>,
    /// Where they came from, for a token of scope `setup`; empty where that is not known.
    pub address: Option<String>,
}

/// By whom something was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ByRow {
    /// `person`, `token`, or `nobody`: the program itself.
    pub kind: &'static str,
    /// The id of that person or token.
    pub id: Option<String>,
}

impl DeedRow {
    fn of(deed: &AuditEntry, scope: Scope) -> Self {
        let (kind, id) = match deed.by {
            By::Nobody => ("nobody", None),
            By::Person(id) => ("person", Some(id.to_string())),
            By::Token(id) => ("token", Some(id.to_string())),
        };
        let wrong = deed.wrong.as_ref().filter(|_| scope >= Scope::Setup);
        Self {
            id: deed.id.to_string(),
            at: deed.at,
            by: ByRow { kind, id },
            what: deed.what.word(),
            of: deed.of.clone(),
            undone_at: deed.undone_at,
            can_be_undone: deed.can_be_undone,
            times: deed.wrong.as_ref().map(|wrong| wrong.count),
            address: wrong.map(|wrong| wrong.address.clone()),
        }
    }
}

/// Which deeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichDeeds {
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedCursor, required = false)]
    pub after: Option<Cursor>,
}

/// Who did what, the last first
#[utoipa::path(
    get,
    path = "/api/v1/deeds",
    tag = "shelf",
    params(WhichDeeds),
    responses((status = 200, description = "A page of what was done", body = Page<DeedRow>))
)]
pub(crate) async fn list_deeds(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichDeeds>,
) -> Result<Json<Page<DeedRow>>, Problem> {
    let limit = which.limit.unwrap_or_default().rows();
    let before = which.after.map(|Cursor(id)| id);
    // One more than is shown tells whether there are any behind these.
    let most = u64::try_from(limit + 1).unwrap_or(u64::MAX);
    let deeds = api.store.deeds(caller.shop, before, most).await?;
    let items: Vec<DeedRow> =
        deeds.iter().take(limit).map(|deed| DeedRow::of(deed, caller.scope)).collect();
    let is_end = deeds.len() <= limit;
    let next = items.last().filter(|_| !is_end).map(|last| last.id.clone());
    Ok(Json(Page { items, next }))
}
