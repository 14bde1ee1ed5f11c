//! What some weeks cost by a ledger: what stands on the shelf, what went off of it, and the
//! deliveries that filled it.

use std::collections::{BTreeMap, HashMap, HashSet};

use capful_domain::facts::{DiscardReason, OrderStatus};
use capful_domain::{
    ContainerId, Facts, Id, Ledger, Money, Movement, MovementKind, Quantity, offer_of,
};
use chrono::{DateTime, NaiveDate, Utc};
use rust_decimal::Decimal;

use super::result::Account;
use crate::learn::index::{base, float};

/// Weeks that are accounted for.
pub(crate) struct Window {
    pub from: DateTime<Utc>,
    pub to: DateTime<Utc>,
    /// Containers that were past their use-by when it began: nobody's waste.
    pub past: HashSet<ContainerId>,
}

impl Window {
    fn holds(&self, at: DateTime<Utc>) -> bool {
        self.from < at && at <= self.to
    }
}

/// Orders and what their deliveries cost.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Deliveries {
    pub orders: u32,
    pub freight: Money,
}

/// Jobs that stalled and what that cost, in the shop's currency; none where records do not tell.
pub(crate) type Stalls = Option<(u32, f64)>;

/// The account of the rows in `facts` that `ledger` was made of.
pub(crate) fn account(
    facts: &Facts,
    ledger: &Ledger,
    window: &Window,
    deliveries: Deliveries,
    stalls: Stalls,
) -> Account {
    let places = facts.shop.currency.decimals();
    let cash = |minor: f64| {
        let minor = Decimal::try_from(minor).unwrap_or_default().round_dp(0);
        let mut cash = minor / Decimal::from(10_u64.pow(places));
        cash.rescale(places);
        cash
    };
    let yearly = float(facts.shop.holding_rate);
    let (stock, stock_days) = stock(ledger, window);
    let freight = cash(deliveries.freight.minor() as f64);
    let waste = cash(waste(facts, ledger, window));
    let holding = cash(yearly / 365.0 * stock_days);
    let stalled = stalls.map(|(_, cost)| cash(cost * 10_f64.powi(places.cast_signed())));
    Account {
        orders: deliveries.orders,
        goods: cash(goods(ledger, window)),
        freight,
        waste,
        holding,
        stalled_jobs: stalls.map(|(jobs, _)| jobs),
        stalls: stalled,
        avoidable: freight + waste + holding + stalled.unwrap_or_default(),
        stock_at_end: cash(stock),
    }
}

/// What a movement is worth at cost, in minor units.
fn worth(ledger: &Ledger, movement: &Movement, quantity: Quantity) -> f64 {
    let Some(own) = ledger.container(&movement.container) else { return 0.0 };
    own.lot.unit_cost.minor() as f64 * base(quantity) / base(own.size).max(1e-9)
}

/// What stands on the shelf at the end of the window, at cost, and what stood on it times the days
/// that it did.
fn stock(ledger: &Ledger, window: &Window) -> (f64, f64) {
    let (mut stock, mut stock_days) = (0.0, 0.0);
    for movement in ledger.movements().iter().filter(|m| m.at <= window.to) {
        let value = worth(ledger, movement, movement.change);
        let since = movement.at.max(window.from);
        stock += value;
        stock_days += value * (window.to - since).num_seconds() as f64 / 86_400.0;
    }
    (stock, stock_days)
}

/// What came in, at cost.
fn goods(ledger: &Ledger, window: &Window) -> f64 {
    let came = ledger.standing().filter(|m| m.kind == MovementKind::Received);
    came.filter(|m| window.holds(m.at)).map(|m| worth(ledger, m, m.change)).sum()
}

/// What was thrown away because it was no longer good, or for no reason that was written down.
fn waste(facts: &Facts, ledger: &Ledger, window: &Window) -> f64 {
    let reasons: HashMap<&Id, Option<DiscardReason>> =
        facts.discards.iter().map(|discard| (&discard.id, discard.reason)).collect();
    let went_off = |m: &&Movement| {
        let reason = reasons.get(m.source.id()).copied().flatten();
        m.kind == MovementKind::Discarded
            && window.holds(m.at)
            && !window.past.contains(&m.container)
            && matches!(reason, None | Some(DiscardReason::Expired))
    };
    ledger.standing().filter(went_off).map(|m| worth(ledger, m, -m.change)).sum()
}

/// The orders that a shop wrote down within the window; of suppliers that it never wrote an order
/// to, what came on one day is taken to be one.
pub(crate) fn recorded(facts: &Facts, window: &Window) -> Deliveries {
    let mut goods: Vec<(&Id, Money)> = Vec::new();
    let ordered: HashSet<&Id> = facts.orders.iter().map(|order| &order.supplier).collect();
    for order in &facts.orders {
        if order.status == Some(OrderStatus::Cancelled) || !window.holds(order.placed_at) {
            continue;
        }
        let lines = facts.order_lines.iter().filter(|line| line.order == order.id);
        let cost = lines.filter_map(|line| {
            Some(offer_of(facts, order, line)?.price.times(i64::from(line.packs)))
        });
        goods.push((&order.supplier, cost.sum()));
    }
    let mut by_day: BTreeMap<(&Id, NaiveDate), Money> = BTreeMap::new();
    for receipt in facts.receipts.iter().filter(|receipt| window.holds(receipt.at)) {
        let Some(supplier) = &receipt.supplier else { continue };
        if !ordered.contains(supplier) {
            let day = facts.shop.day_of(receipt.at);
            let cost = receipt.unit_cost.times(i64::from(receipt.containers));
            *by_day.entry((supplier, day)).or_default() += cost;
        }
    }
    goods.extend(by_day.into_iter().map(|((supplier, _), cost)| (supplier, cost)));
    let freight = goods.iter().filter_map(|(supplier, cost)| {
        let own = facts.suppliers.iter().find(|own| own.id == **supplier)?;
        Some(own.freight_of(*cost))
    });
    Deliveries { orders: u32::try_from(goods.len()).unwrap_or(u32::MAX), freight: freight.sum() }
}
