//! The books, added up again.

use axum::Json;
use axum::extract::State;
use capful_domain::{ContainerId, Quantity, Snapshot};
use capful_store::Checked;
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::Api;
use crate::auth::Caller;
use crate::params::{Params, When};
use crate::problem::Problem;
use crate::view;

/// What adding the books up again found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct CheckAnswer {
    /// The day it speaks of.
    pub as_of: NaiveDate,
    /// Whether every container holds the sum of its movements, and what the rows come to.
    pub is_well: bool,
    /// Containers that were looked at.
    pub containers: usize,
    /// Movements that were added up.
    pub movements: usize,
    /// Containers whose books are not the sum of their movements.
    pub differences: Vec<DifferenceRow>,
    /// Containers in which the rows, posted again in the order of their times, leave something
    /// else.
    pub otherwise: Vec<DifferenceRow>,
}

/// A container that holds something else than it should.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct DifferenceRow {
    /// The container.
    pub container: String,
    /// What the books say, in ledger units (µL, mg, µm, 1/1000 piece).
    pub books: i64,
    /// What it adds up to, in ledger units.
    pub sum: i64,
}

impl DifferenceRow {
    fn of(container: &ContainerId, books: Quantity, sum: Quantity) -> Self {
        let container = container.to_string();
        Self { container, books: books.ledger_units(), sum: sum.ledger_units() }
    }
}

impl CheckAnswer {
    fn of(checked: &Checked, as_of: NaiveDate) -> Self {
        let row =
            |d: &capful_store::Difference| DifferenceRow::of(&d.container, d.left, d.expected);
        Self {
            as_of,
            is_well: checked.wrong.is_empty() && checked.otherwise.is_empty(),
            containers: checked.containers,
            movements: checked.movements,
            differences: checked.wrong.iter().map(row).collect(),
            otherwise: checked.otherwise.iter().map(row).collect(),
        }
    }

    /// Of another moment there are no books but the rows until then.
    fn of_rows(snapshot: &Snapshot) -> Self {
        let ledger = snapshot.ledger(&capful_forecast::expected_pours(snapshot));
        let rows = ledger.differences().into_iter();
        let rows: Vec<_> =
            rows.map(|(id, books, sum)| DifferenceRow::of(&id, books, sum)).collect();
        Self {
            as_of: snapshot.day,
            is_well: rows.is_empty(),
            containers: ledger.containers().len(),
            movements: ledger.movements().len(),
            differences: rows,
            otherwise: Vec::new(),
        }
    }
}

/// Every container added up again from its movements
#[utoipa::path(
    get,
    path = "/api/v1/check",
    tag = "shelf",
    params(When),
    responses((status = 200, description = "What was found", body = CheckAnswer))
)]
pub(crate) async fn get_check(
    State(api): State<Api>,
    caller: Caller,
    Params(when): Params<When>,
) -> Result<Json<CheckAnswer>, Problem> {
    let snapshot = view::snapshot(&api, &caller, when.as_of).await?;
    let day = snapshot.day;
    if when.as_of.is_some() {
        let checked = tokio::task::spawn_blocking(move || CheckAnswer::of_rows(&snapshot));
        return checked.await.map(Json).map_err(|error| Problem::internal(&error));
    }
    let checked = api.store.check(caller.shop).await?;
    Ok(Json(CheckAnswer::of(&checked, day)))
}
