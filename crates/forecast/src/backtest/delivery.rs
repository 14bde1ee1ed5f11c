//! When an order of the list would have come, and what comes of orders that were placed before.

use std::collections::HashMap;

use capful_domain::facts::Receipt;
use capful_domain::{Facts, Id, Snapshot};
use chrono::{DateTime, Days, NaiveDate, Utc};
use rust_decimal::prelude::ToPrimitive;

/// The day that an order placed with a supplier on a day comes: as long after it as the shop's own
/// order nearest to that day took, else as long as the supplier says. Nobody is there to take it
/// in on a day that the shop is closed.
pub(crate) fn arrives_on(end: &Snapshot, supplier: &Id, placed: NaiveDate) -> NaiveDate {
    let shop = &end.facts.shop;
    let own = end.orders.deliveries.iter().filter(|delivery| delivery.supplier == *supplier);
    let took = own.filter_map(|delivery| {
        let began = shop.day_of(delivery.placed_at);
        let days = (shop.day_of(delivery.first_receipt_at?) - began).num_days();
        Some(((began - placed).num_days().abs(), began, u64::try_from(days).unwrap_or(0)))
    });
    let said = || {
        let suppliers = end.facts.suppliers.iter().find(|own| own.id == *supplier);
        suppliers.and_then(|own| own.lead_days.round().to_u64()).unwrap_or(0)
    };
    let days = took.min().map_or_else(said, |(_, _, days)| days);
    let mut from = (placed + Days::new(days)).iter_days().take(60);
    from.find(|day| shop.is_open(*day)).unwrap_or(placed + Days::new(days))
}

/// The receipts after `moment` that bring what was on its way then: those that name an order placed
/// until then, and of those that name none the first ones, until what was awaited has come.
pub(crate) fn on_their_way(facts: &Facts, moment: DateTime<Utc>) -> Vec<Receipt> {
    let then = Snapshot::of(facts, moment);
    let placed = |order: &Id| then.facts.orders.iter().any(|own| own.id == *order);
    let mut awaited: HashMap<&Id, u32> = HashMap::new();
    for line in &then.orders.outstanding {
        *awaited.entry(&line.product).or_default() += line.containers;
    }
    let mut later: Vec<&Receipt> = facts.receipts.iter().filter(|r| r.at > moment).collect();
    later.sort_by_key(|receipt| receipt.at);
    let mut coming = Vec::new();
    for receipt in later {
        let left = awaited.get(&receipt.product).copied().unwrap_or(0);
        let is_awaited = match &receipt.order {
            Some(order) => placed(order),
            None => left > 0,
        };
        if is_awaited {
            awaited.insert(&receipt.product, left.saturating_sub(receipt.containers));
            coming.push(receipt.clone());
        }
    }
    coming
}

/// The last day that a container of a product which comes on a day is good while sealed, where the
/// product itself does not say: as its lots were on average.
pub(crate) fn best_before(facts: &Facts, product: &Id, came: NaiveDate) -> Option<NaiveDate> {
    let own = facts.products.iter().find(|own| own.id == *product)?;
    if own.shelf_days.is_some() {
        return None;
    }
    let lots = facts.receipts.iter().filter(|receipt| receipt.product == *product);
    let mut lives: Vec<i64> = lots
        .filter_map(|lot| Some((lot.best_before? - facts.shop.day_of(lot.at)).num_days()))
        .collect();
    lives.sort_unstable();
    let usual = *lives.get(lives.len() / 2)?;
    Some(came + Days::new(u64::try_from(usual).unwrap_or(0)))
}
