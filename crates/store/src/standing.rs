//! A shop as it stands: what was written down and the books, read of one moment.

use std::collections::{HashMap, HashSet};

use capful_domain::{Kept, Ledger, Left, Movement, Quantity, Shop, Snapshot};
use chrono::{DateTime, Utc};
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};
use uuid::Uuid;

use crate::error::StoreError;
use crate::facts::{self, Which};
use crate::rows::{Containers, KeptRow, Movements, StoredMovement};
use crate::sql;
use crate::store::{Store, failed};

impl Store {
    /// What was written down until `now`, and the ledger as it was posted. Both are read in one
    /// transaction: what is written meanwhile is in both or in neither.
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
        let own = Movements::find().filter(sql::of_shop(shop)).order_by_asc(Expr::col("id"));
        let movements = own.all(&tx).await.map_err(failed)?;
        tx.commit().await.map_err(failed)?;
        let facts = facts.ok_or_else(|| sql::not_found::<Shop>(&shop.to_string()))?;
        let container = |row| KeptRow::from_row(row, &facts.shop).map(|row| row.kept.container);
        let kept = |container| Kept { container, gained: Quantity::ZERO, meant: None };
        let containers = containers.iter().map(|row| container(row).map(kept));
        let movements = movements.iter().map(StoredMovement::from_row);
        let left = Left {
            containers: containers.collect::<Result<_, _>>()?,
            movements: linked(movements.collect::<Result<_, _>>()?),
            taken: HashSet::new(),
        };
        let snapshot = Snapshot::of(&facts, now);
        let ledger = Ledger::resume(&facts.shop, &facts.products, left);
        Ok((snapshot, ledger))
    }
}

/// Movements that name what they undo by its place in the list.
fn linked(stored: Vec<StoredMovement>) -> Vec<Movement> {
    let numbered = stored.iter().enumerate();
    let places: HashMap<_, _> = numbered.map(|(place, stored)| (stored.id, place)).collect();
    let link = |stored: StoredMovement| Movement {
        reverses: stored.reverses.and_then(|id| places.get(&id).copied()),
        ..stored.movement
    };
    stored.into_iter().map(link).collect()
}
