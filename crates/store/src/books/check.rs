//! Adding the books up again.

use std::collections::{HashMap, HashSet};

use capful_domain::{ContainerId, Quantity, Shop};
use sea_orm::sea_query::Expr;
use sea_orm::{
    DatabaseTransaction, DbErr, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, QuerySelect,
};
use uuid::Uuid;

use crate::books::replay::{self, Replay};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::sql;
use crate::db::store::Store;
use crate::queries::facts::{self, Which};
use crate::rows::{Containers, KeptRow, MovementColumn, Movements};

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
    /// Where the rows, posted again in the order of their times, come to something else: none, if
    /// all is well.
    pub otherwise: Vec<Difference>,
}

#[derive(FromQueryResult)]
struct Sum {
    container: String,
    movements: i64,
    change: i64,
}

impl Store {
    /// Adds every container up again from its movements, and posts all rows again, with what done
    /// jobs of a history were taken to have used when it came in.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such shop, [`StoreError::Database`].
    pub async fn check(&self, shop: Uuid) -> Result<Checked, StoreError> {
        let tx = self.begin_reading().await?;
        let checked = add_up(&tx, shop).await?;
        tx.commit().await.map_err(failed)?;
        Ok(checked)
    }
}

/// Adds every container of a shop up again, in a transaction that reads of one moment.
pub(crate) async fn add_up(tx: &DatabaseTransaction, shop: Uuid) -> Result<Checked, StoreError> {
    let facts = facts::read(tx, shop, Which::Standing).await?;
    let facts = facts.ok_or_else(|| sql::not_found::<Shop>(&shop.to_string()))?;
    let own = Containers::find().filter(sql::of_shop(shop)).order_by_asc(Expr::col("id"));
    let containers = own.all(tx).await.map_err(failed)?;
    let containers = containers.iter().map(|row| KeptRow::from_row(row, &facts.shop));
    let containers: Vec<KeptRow> = containers.collect::<Result<_, _>>()?;
    let deducted = replay::deducted(tx, shop, None).await?;
    let sums = sums(tx, shop).await.map_err(failed)?;
    let replayed = replay::replay(&facts, &deducted, &containers);
    Ok(compare(&containers, &sums, &replayed))
}

async fn sums(tx: &DatabaseTransaction, shop: Uuid) -> Result<Vec<Sum>, DbErr> {
    let sums = Movements::find()
        .select_only()
        .column(MovementColumn::Container)
        .expr_as(Expr::cust("COUNT(*)"), "movements")
        .expr_as(Expr::cust("CAST(SUM(change) AS BIGINT)"), "change")
        .filter(sql::of_shop(shop))
        .group_by(Expr::col("container"));
    sums.into_model::<Sum>().all(tx).await
}

fn compare(containers: &[KeptRow], sums: &[Sum], replayed: &Replay) -> Checked {
    let count = |sum: &Sum| usize::try_from(sum.movements).unwrap_or(0);
    let movements = sums.iter().map(count).sum();
    let mut checked = Checked { containers: containers.len(), movements, ..Checked::default() };
    let sums: HashMap<&str, &Sum> = sums.iter().map(|sum| (sum.container.as_str(), sum)).collect();
    for row in containers {
        let container = &row.kept.container;
        let left = container.left;
        let sum = sums.get(container.id.as_str());
        let added = Quantity::from_ledger_units(sum.map_or(0, |sum| sum.change));
        let again = replayed.containers.get(&container.id).map_or(Quantity::ZERO, |c| c.left);
        let difference = |expected| Difference { container: container.id.clone(), left, expected };
        let is_counted = sum.map_or(0, |sum| sum.movements) == row.movements;
        if left != added || left < Quantity::ZERO || !is_counted {
            checked.wrong.push(difference(added));
        }
        if left != again {
            checked.otherwise.push(difference(again));
        }
    }
    let kept: HashSet<&ContainerId> = containers.iter().map(KeptRow::name).collect();
    let others = replayed.containers.values().filter(|c| !kept.contains(&c.id));
    checked.otherwise.extend(others.filter(|c| !c.left.is_zero()).map(|container| Difference {
        container: container.id.clone(),
        left: Quantity::ZERO,
        expected: container.left,
    }));
    checked
}
