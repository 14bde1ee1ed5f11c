//! Adding the books up again.

use std::collections::HashMap;

use capful_domain::{ContainerId, ExpectedPour, Quantity, Snapshot};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, FromQueryResult, QueryFilter, QuerySelect};
use uuid::Uuid;

use crate::error::StoreError;
use crate::rows::Movements;
use crate::sql;
use crate::store::{Store, failed};

/// A container that holds something else than it should.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Which.
    pub container: ContainerId,
    /// What the books say is left.
    pub left: Quantity,
    /// What it should be: of the books, the sum of its movements; of a replay, what that gives.
    pub expected: Quantity,
}

/// What adding the books up again found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Checked {
    /// Containers that were looked at.
    pub containers: usize,
    /// Movements that were added up.
    pub movements: usize,
    /// Where the books are wrong: none, if all is well.
    pub wrong: Vec<Difference>,
    /// Where the rows, posted again in the order of their times, come to something else. That is
    /// no fault: rows are posted when they are written down, and some are written down late.
    pub otherwise: Vec<Difference>,
}

#[derive(FromQueryResult)]
struct Sum {
    container: String,
    movements: i64,
    change: i64,
}

impl Store {
    /// Adds every container up again from its movements, and posts all rows again until `now`;
    /// `expected` is what done jobs without any pour are taken to have used.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such shop, [`StoreError::Database`].
    pub async fn check(
        &self,
        shop: Uuid,
        now: DateTime<Utc>,
        expected: &[ExpectedPour],
    ) -> Result<Checked, StoreError> {
        let sums = Movements::find()
            .select_only()
            .column(crate::rows::MovementColumn::Container)
            .expr_as(Expr::cust("COUNT(*)"), "movements")
            .expr_as(Expr::cust("CAST(SUM(change) AS BIGINT)"), "change")
            .filter(sql::of_shop(shop))
            .group_by(Expr::col("container"))
            .into_model::<Sum>();
        let sums = sums.all(&self.writer).await.map_err(failed)?;
        let containers = self.containers(shop, None, false).await?;
        let mut checked = Checked { containers: containers.len(), ..Checked::default() };
        checked.movements =
            sums.iter().map(|sum| usize::try_from(sum.movements).unwrap_or(0)).sum();
        let sums: HashMap<String, i64> =
            sums.into_iter().map(|sum| (sum.container, sum.change)).collect();
        let facts = self.facts(shop, None).await?;
        let replayed = Snapshot::of(&facts, now).ledger(expected);
        for container in &containers {
            let left = container.left;
            let sum = sums.get(container.id.as_str()).copied().unwrap_or_default();
            let sum = Quantity::from_ledger_units(sum);
            let again = replayed.container(&container.id).map_or(Quantity::ZERO, |c| c.left);
            let difference =
                |expected| Difference { container: container.id.clone(), left, expected };
            if left != sum || left < Quantity::ZERO {
                checked.wrong.push(difference(sum));
            }
            if left != again {
                checked.otherwise.push(difference(again));
            }
        }
        for container in replayed.containers() {
            let is_kept = containers.iter().any(|kept| kept.id == container.id);
            if !is_kept && !container.left.is_zero() {
                let (left, expected) = (Quantity::ZERO, container.left);
                let container = container.id.clone();
                checked.otherwise.push(Difference { container, left, expected });
            }
        }
        Ok(checked)
    }
}
