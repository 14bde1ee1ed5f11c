//! A shop as it stands: what was written down and the books, read of one moment.

use std::collections::HashSet;

use capful_domain::{Ledger, Left, Shop, Snapshot};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};
use uuid::Uuid;

use crate::books::replay;
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::sql;
use crate::db::store::Store;
use crate::queries::facts::{self, Which};
use crate::rows::{Containers, KeptRow};

impl Store {
    /// What was written down until `now`, and the containers as the books have them, with the
    /// movements that their rows come to in the order of time. Both are read in one transaction:
    /// what is written meanwhile is in both or in neither.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such shop, [`StoreError::Database`].
    pub async fn standing(
        &self,
        shop: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(Snapshot, Ledger), StoreError> {
        let tx = self.begin_reading().await?;
        let facts = facts::read(&tx, shop, Which::Standing).await?;
        let own = Containers::find().filter(sql::of_shop(shop)).order_by_asc(Expr::col("id"));
        let containers = own.all(&tx).await.map_err(failed)?;
        let deducted = replay::deducted(&tx, shop, None).await?;
        tx.commit().await.map_err(failed)?;
        let facts = facts.ok_or_else(|| sql::not_found::<Shop>(&shop.to_string()))?;
        let containers = containers.iter().map(|row| KeptRow::from_row(row, &facts.shop));
        let mut containers: Vec<KeptRow> = containers.collect::<Result<_, _>>()?;
        containers.sort_by_key(KeptRow::turn);
        let movements = replay::replay(&facts, &deducted, &containers).movements;
        let containers = containers.into_iter().map(|row| row.kept).collect();
        let left = Left { containers, movements, taken: HashSet::new() };
        let snapshot = Snapshot::of(&facts, now);
        let ledger = Ledger::resume(&facts.shop, &facts.products, left);
        Ok((snapshot, ledger))
    }
}
