//! Movements: the ledger, line by line.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use capful_domain::{AsOf, ContainerId, Id, MovementKind, Product, Source};
use capful_forecast::plan::AmountIn;
use capful_store::{MovementFilter, Posted};
use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::page::{self, BLOCK, Cursor, Limit, NotACursor, Page};
use crate::params::{Params, container, id, moment, parsed};
use crate::problem::Problem;
use crate::schema;
use crate::view;
use crate::wire;

/// One line of the ledger. Never edited, never deleted.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct MovementRow {
    /// What it is reversed by.
    pub id: String,
    /// When it happened.
    pub at: DateTime<Utc>,
    /// `received`, `opened`, `mixed`, `poured`, `counted`, `discarded`, `returned` or `reversed`.
    pub kind: &'static str,
    /// Of what.
    pub product: String,
    /// Into or out of which container.
    pub container: String,
    /// Its number among its container's, from 1.
    pub number: i64,
    /// What the container gained, negative where it lost.
    pub change: AmountIn,
    /// The row that it comes from.
    pub source: SourceRow,
    /// The job that it was for.
    pub job: Option<String>,
    /// The movement that it undoes.
    pub reverses: Option<String>,
}

/// The row that a movement comes from.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct SourceRow {
    /// `receipt`, `opening`, `mix`, `pour`, `expected`, `discard` or `count`.
    pub kind: &'static str,
    /// Its id; of `expected` the job's.
    pub id: String,
}

impl MovementRow {
    /// A posted movement, where its product is one of these.
    pub(crate) fn of(posted: &Posted, products: &BTreeMap<Id, Product>) -> Option<Self> {
        let movement = &posted.movement;
        let product = products.get(&movement.product)?;
        Some(Self {
            id: posted.id.to_string(),
            at: movement.at,
            kind: kind_word(movement.kind),
            product: movement.product.to_string(),
            container: movement.container.to_string(),
            number: posted.number,
            change: wire::amount(product, movement.change),
            source: SourceRow {
                kind: source_word(&movement.source),
                id: movement.source.id().to_string(),
            },
            job: wire::text(movement.job.as_ref()),
            reverses: posted.reverses.map(|id| id.to_string()),
        })
    }
}

/// The word for what a movement is.
pub(crate) const fn kind_word(kind: MovementKind) -> &'static str {
    match kind {
        MovementKind::Received => "received",
        MovementKind::Opened => "opened",
        MovementKind::Mixed => "mixed",
        MovementKind::Poured => "poured",
        MovementKind::Counted => "counted",
        MovementKind::Discarded => "discarded",
        MovementKind::Returned => "returned",
        MovementKind::Reversed => "reversed",
    }
}

/// The word for the kind of row that a movement comes from.
pub(crate) const fn source_word(source: &Source) -> &'static str {
    match source {
        Source::Receipt(_) => "receipt",
        Source::Opening(_) => "opening",
        Source::Mix(_) => "mix",
        Source::Pour(_) => "pour",
        Source::Expected(_) => "expected",
        Source::Discard(_) => "discard",
        Source::Count(_) => "count",
    }
}

/// Which movements.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct WhichMovements {
    /// Of that time or before: a day, or a time. Without it: all.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedTime, required = false, example = "2026-03-02")]
    pub as_of: Option<AsOf>,
    /// Of this product only.
    #[serde(default, deserialize_with = "id")]
    #[param(value_type = schema::AskedId, required = false)]
    pub product: Option<Id>,
    /// For this job only.
    #[serde(default, deserialize_with = "id")]
    #[param(value_type = schema::AskedId, required = false)]
    pub job: Option<Id>,
    /// Of this container only.
    #[serde(default, deserialize_with = "container")]
    #[param(value_type = schema::AskedContainer, required = false)]
    pub container: Option<ContainerId>,
    /// Rows of a page at most, 1 to 500. Without it: 100.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedLimit, required = false)]
    pub limit: Option<Limit>,
    /// What the page before gave as `next`.
    #[serde(default, deserialize_with = "parsed")]
    #[param(value_type = schema::AskedCursor, required = false)]
    pub after: Option<String>,
}

impl WhichMovements {
    /// The narrowest of what is asked for; the rest is held against each row.
    fn filter(&self) -> MovementFilter {
        match (&self.container, &self.job, &self.product) {
            (Some(container), _, _) => MovementFilter::Containers(vec![container.clone()]),
            (_, Some(job), _) => MovementFilter::Job(job.clone()),
            (_, _, Some(product)) => MovementFilter::Product(product.clone()),
            _ => MovementFilter::All,
        }
    }

    fn has(&self, row: &Posted, until: Option<DateTime<Utc>>) -> bool {
        let movement = &row.movement;
        until.is_none_or(|until| movement.at <= until)
            && self.container.as_ref().is_none_or(|container| movement.container == *container)
            && self.product.as_ref().is_none_or(|product| movement.product == *product)
            && self.job.as_ref().is_none_or(|job| movement.job.as_ref() == Some(job))
    }
}

/// Movements in the order they were posted
#[utoipa::path(
    get,
    path = "/api/v1/movements",
    tag = "shelf",
    params(WhichMovements),
    responses((status = 200, description = "A page of movements", body = Page<MovementRow>))
)]
pub(crate) async fn list_movements(
    State(api): State<Api>,
    caller: Caller,
    Params(which): Params<WhichMovements>,
) -> Result<Json<Page<MovementRow>>, Problem> {
    let (shop, products) = view::catalog(&api, &caller).await?;
    let until = moment(which.as_of, &shop);
    let limit = which.limit.unwrap_or_default().rows();
    let mut after = cursor(&api, &caller, &which, until).await?;
    let (filter, mut items) = (which.filter(), Vec::new());
    while items.len() <= limit {
        let rows = api.store.movements_page(caller.shop, &filter, after, BLOCK).await?;
        let Some(last) = rows.last() else { break };
        after = Some(last.id);
        let wanted = rows.iter().filter(|row| which.has(row, until));
        items.extend(wanted.filter_map(|posted| MovementRow::of(posted, &products)));
    }
    Ok(Json(page::of_list(items, None, which.limit, |row| &row.id, |_| true)?))
}

/// The movement that a page goes on after; one that this list would show.
async fn cursor(
    api: &Api,
    caller: &Caller,
    which: &WhichMovements,
    until: Option<DateTime<Utc>>,
) -> Result<Option<Uuid>, Problem> {
    let Some(text) = &which.after else { return Ok(None) };
    let wrong = || Problem::query("after", format!("found {text:?}, expected {NotACursor}"));
    let Cursor(id) = text.parse().map_err(|_| wrong())?;
    let found = api.store.movements(caller.shop, &MovementFilter::Id(id)).await?;
    match found.first().filter(|row| which.has(row, until)) {
        Some(_) => Ok(Some(id)),
        None => Err(wrong()),
    }
}
