//! Orders, what comes in against them, and the other rows of the shelf.

use std::collections::BTreeSet;

use capful_domain::facts::{Count, Discard, Mix, Opening, Pour, Receipt};
use capful_domain::facts::{Order, OrderLine, OrderStatus};
use capful_domain::{Id, Product, Supplier, Word};

use capful_folder::cells::MOST_CONTAINERS;
use serde_json::json;

use crate::books::posting::{self, EntryMode};
use crate::books::shelf::ShelfRow;
use crate::db::error::refuse;
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::work::Work;
use crate::request::change::{Edited, Effects};
use crate::rows::{RowMeta, Stored};

/// A row of one kind that stands on the shelf.
pub(crate) trait OneRow: Stored {
    fn as_row(&self) -> ShelfRow<'_>;
}

macro_rules! one_row {
    ($($kind:ident),*) => {
        $(impl OneRow for $kind {
            fn as_row(&self) -> ShelfRow<'_> {
                ShelfRow::$kind(self)
            }
        })*
    };
}
one_row!(Opening, Mix, Discard, Count, Pour, Receipt);

impl Work<'_> {
    pub(crate) async fn shelf_row<T: OneRow>(&self, row: &T) -> Result<Effects, Failure> {
        let shop = self.the_shop().await?;
        sql::must_be_new(self, std::slice::from_ref(row)).await?;
        let written = vec![row.key()];
        let mut outcome = Effects { written, is_new: true, ..Effects::default() };
        let late =
            posting::post(self, &shop, &[row.as_row()], EntryMode::Live, &mut outcome).await?;
        sql::insert(self, std::slice::from_ref(row)).await?;
        self.rebuild_late(&shop, late, &mut outcome).await?;
        Ok(outcome)
    }

    pub(crate) async fn receive(&self, receipts: &[Receipt]) -> Result<Effects, Failure> {
        let shop = self.the_shop().await?;
        let suppliers: BTreeSet<&Id> =
            receipts.iter().filter_map(|receipt| receipt.supplier.as_ref()).collect();
        for supplier in suppliers {
            self.must_be_there::<Supplier>(supplier).await?;
        }
        let orders: BTreeSet<&Id> =
            receipts.iter().filter_map(|receipt| receipt.order.as_ref()).collect();
        for id in orders {
            let (_, order) = sql::get::<Order>(self, id.as_str()).await?;
            check_order(&order, receipts)?;
        }
        if receipts.iter().any(|receipt| !(1..=MOST_CONTAINERS).contains(&receipt.containers)) {
            return refuse(&format!("containers: from 1 to {MOST_CONTAINERS}"));
        }
        sql::must_be_new(self, receipts).await?;
        let written = receipts.iter().map(Stored::key).collect();
        let mut outcome = Effects { written, is_new: true, ..Effects::default() };
        let rows: Vec<ShelfRow<'_>> = receipts.iter().map(ShelfRow::Receipt).collect();
        let late = posting::post(self, &shop, &rows, EntryMode::Live, &mut outcome).await?;
        sql::insert(self, receipts).await?;
        self.rebuild_late(&shop, late, &mut outcome).await?;
        Ok(outcome)
    }

    /// What came in of an order, and it is over.
    pub(crate) async fn receive_last(
        &self,
        receipts: &[Receipt],
        order: &Id,
    ) -> Result<Effects, Failure> {
        if receipts.is_empty() || receipts.iter().any(|row| row.order.as_ref() != Some(order)) {
            return refuse(&format!("order: {order}, in every row of what came in"));
        }
        let mut outcome = self.receive(receipts).await?;
        let (place, mut own) = sql::get::<Order>(self, order.as_str()).await?;
        let of = |status| json!({ "order": order.as_str(), "status": told_status(status) });
        let over = Some(OrderStatus::Received);
        outcome.edited = Some(Edited { row: Order::WHAT, before: of(own.status), after: of(over) });
        own.status = over;
        outcome.version = self.write_order(place, &own).await?.version;
        Ok(outcome)
    }

    pub(crate) async fn place_order(
        &self,
        order: &Order,
        lines: &[OrderLine],
    ) -> Result<Effects, Failure> {
        self.must_be_there::<Supplier>(&order.supplier).await?;
        if lines.is_empty() || lines.iter().any(|line| line.packs == 0) {
            return refuse("lines: at least one, each of at least one pack");
        }
        if let Some(line) = lines.iter().find(|line| line.order != order.id) {
            return refuse(&format!("lines: of order {}, not of {}", order.id, line.order));
        }
        for product in lines.iter().map(|line| &line.product).collect::<BTreeSet<_>>() {
            self.must_be_there::<Product>(product).await?;
        }
        let id = order.id.to_string();
        if sql::find::<Order>(&self.tx, self.shop, &id).await?.is_some() {
            return Err(StoreError::Conflict { what: Order::WHAT, id }.into());
        }
        sql::insert(self, std::slice::from_ref(order)).await?;
        sql::insert(self, lines).await?;
        Ok(Effects { written: vec![id], version: Some(1), is_new: true, ..Effects::default() })
    }

    pub(crate) async fn set_order(&self, id: &Id, status: OrderStatus) -> Result<Effects, Failure> {
        let (place, mut order) = sql::get::<Order>(self, id.as_str()).await?;
        self.must_match::<Order>(id.as_str(), place.version)?;
        if order.status == Some(OrderStatus::Cancelled) && status != OrderStatus::Cancelled {
            return refuse(&format!("order {id} is cancelled: place a new one"));
        }
        let (before, after) = (told_status(order.status), told_status(Some(status)));
        let edited = Edited { row: Order::WHAT, before, after };
        order.status = Some(status);
        let mut outcome = self.write_order(place, &order).await?;
        outcome.edited = Some(edited);
        Ok(outcome)
    }

    pub(crate) async fn write_order(
        &self,
        place: RowMeta,
        order: &Order,
    ) -> Result<Effects, Failure> {
        let version = Some(sql::overwrite(self, place, order).await?);
        Ok(Effects { written: vec![order.id.to_string()], version, ..Effects::default() })
    }
}

/// How an order stands, as it is kept with who edited it.
pub(crate) fn told_status(status: Option<OrderStatus>) -> serde_json::Value {
    status.map(|status| status.word()).into()
}

/// What comes against an order comes from its supplier, and not before it was placed.
fn check_order(order: &Order, receipts: &[Receipt]) -> Result<(), Failure> {
    if order.status == Some(OrderStatus::Cancelled) {
        return refuse(&format!("order: {} is cancelled; none, or one that is placed", order.id));
    }
    for receipt in receipts.iter().filter(|receipt| receipt.order.as_ref() == Some(&order.id)) {
        if receipt.supplier.as_ref().is_some_and(|from| *from != order.supplier) {
            return refuse(&format!("supplier: {}, of whom it was ordered", order.supplier));
        }
        if receipt.at < order.placed_at {
            let placed_at = order.placed_at.to_rfc3339();
            return refuse(&format!("at: not before it was ordered, at {placed_at}"));
        }
    }
    Ok(())
}
