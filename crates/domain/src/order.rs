//! Orders: what is still to come, and how long what came has taken.

use std::collections::HashMap;

use chrono::{DateTime, Utc};

use crate::catalog::Offer;
use crate::facts::{Facts, Order, OrderLine, OrderStatus, Receipt};
use crate::id::Id;
use crate::quantity::Quantity;

/// A line of an order of which something is still to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Outstanding {
    /// The order.
    pub order: Id,
    /// Who sends it.
    pub supplier: Id,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
    /// What.
    pub product: Id,
    /// Containers still to come.
    pub containers: u32,
    /// What they hold together, in ledger units.
    pub quantity: Quantity,
}

/// How an order went: the facts that lead times are learned from.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// The order.
    pub order: Id,
    /// Who sends it.
    pub supplier: Id,
    /// When it was placed.
    pub placed_at: DateTime<Utc>,
    /// When the first of it came; `None`: nothing yet.
    pub first_receipt_at: Option<DateTime<Utc>>,
}

/// A line of one order, and how far it has come.
#[derive(Debug, Clone, PartialEq)]
pub struct LineProgress {
    /// What was ordered.
    pub line: OrderLine,
    /// Containers that were ordered.
    pub containers: u32,
    /// Of these, what has not come.
    pub missing: u32,
}

/// What the orders of a shop have come to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OrderBook {
    /// Lines still to come, in the order they were placed.
    pub outstanding: Vec<Outstanding>,
    /// One for each order that was not cancelled, in the order they were placed.
    pub deliveries: Vec<Delivery>,
}

struct OpenOrder<'a> {
    order: &'a Order,
    lines: Vec<(&'a OrderLine, u32)>,
    first_receipt_at: Option<DateTime<Utc>>,
}

impl OrderBook {
    /// Matches receipts with orders: by the order that a receipt names, else to the oldest order of
    /// the same supplier that still waits for the product.
    ///
    /// An order marked `received` is over once something of it has come, in part or whole.
    #[must_use]
    pub fn of(facts: &Facts) -> Self {
        let orders = matched(facts);
        let products: HashMap<&Id, Quantity> =
            facts.products.iter().map(|p| (&p.id, p.size())).collect();
        let mut book = Self::default();
        for open in orders {
            let over = open.order.status == Some(OrderStatus::Received);
            book.deliveries.push(Delivery {
                order: open.order.id.clone(),
                supplier: open.order.supplier.clone(),
                placed_at: open.order.placed_at,
                first_receipt_at: open.first_receipt_at,
            });
            if over && open.first_receipt_at.is_some() {
                continue;
            }
            for (line, containers) in open.lines.into_iter().filter(|(_, left)| *left > 0) {
                let size = products.get(&line.product).copied().unwrap_or_default();
                book.outstanding.push(Outstanding {
                    order: open.order.id.clone(),
                    supplier: open.order.supplier.clone(),
                    placed_at: open.order.placed_at,
                    product: line.product.clone(),
                    containers,
                    quantity: size.times(containers.into()),
                });
            }
        }
        book
    }

    /// How far each line of one order has come, matched as [`OrderBook::of`] does. Of a cancelled
    /// order nothing has.
    #[must_use]
    pub fn progress(facts: &Facts, order: &Order) -> Vec<LineProgress> {
        let own = matched(facts).into_iter().find(|open| open.order.id == order.id);
        let lines = match own {
            Some(open) => open.lines,
            None => lines_of(facts, order),
        };
        let progress = |(line, missing): (&OrderLine, u32)| LineProgress {
            line: line.clone(),
            containers: ordered(facts, order, line),
            missing,
        };
        lines.into_iter().map(progress).collect()
    }
}

/// The orders that are not cancelled, with what has come taken off their lines.
fn matched(facts: &Facts) -> Vec<OpenOrder<'_>> {
    let mut orders = open_orders(facts);
    let mut receipts: Vec<&Receipt> = facts.receipts.iter().collect();
    receipts.sort_by_key(|r| (r.at, r.order.is_none()));
    let by_id: HashMap<&Id, usize> =
        orders.iter().enumerate().map(|(place, open)| (&open.order.id, place)).collect();
    let mut waiting = waiting_by_product(&orders);
    for receipt in receipts {
        if let Some(named) = &receipt.order {
            if let Some(&place) = by_id.get(named) {
                orders[place].take(receipt, receipt.containers);
                orders[place].first_receipt_at.get_or_insert(receipt.at);
            }
        } else if let Some(places) = waiting.get_mut(&receipt.product) {
            match_receipt(&mut orders, places, receipt);
        }
    }
    orders
}

/// The lines of one order, and the containers of each.
fn lines_of<'a>(facts: &'a Facts, order: &Order) -> Vec<(&'a OrderLine, u32)> {
    let own = facts.order_lines.iter().filter(|line| line.order == order.id);
    own.map(|line| (line, ordered(facts, order, line))).collect()
}

fn open_orders(facts: &Facts) -> Vec<OpenOrder<'_>> {
    let mut lines: HashMap<&Id, Vec<&OrderLine>> = HashMap::new();
    for line in &facts.order_lines {
        lines.entry(&line.order).or_default().push(line);
    }
    let standing = facts.orders.iter().filter(|o| o.status != Some(OrderStatus::Cancelled));
    let mut orders: Vec<OpenOrder<'_>> = standing
        .map(|order| {
            let own = lines.get(&order.id).into_iter().flatten();
            let counted = own.map(|line| (*line, ordered(facts, order, line)));
            OpenOrder { order, lines: counted.collect(), first_receipt_at: None }
        })
        .collect();
    orders.sort_by_key(|open| open.order.placed_at);
    orders
}

/// Containers that a line of an order asks for: one a pack, where nobody offers the product.
fn ordered(facts: &Facts, order: &Order, line: &OrderLine) -> u32 {
    line.packs.saturating_mul(offer_of(facts, order, line).map_or(1, |offer| offer.pack))
}

/// What a line of an order was bought by: the offer under its code, else the supplier's preferred,
/// else first, offer of the product.
#[must_use]
pub fn offer_of<'a>(facts: &'a Facts, order: &Order, line: &OrderLine) -> Option<&'a Offer> {
    let offers =
        facts.offers.iter().filter(|o| o.supplier == order.supplier && o.product == line.product);
    let best = offers.enumerate().max_by_key(|(place, offer)| {
        let same_code = line.supplier_code.is_some() && offer.code == line.supplier_code;
        (same_code, offer.preferred, std::cmp::Reverse(*place))
    });
    best.map(|(_, offer)| offer)
}

/// Places of the orders that wait for each product, the oldest first.
fn waiting_by_product<'a>(orders: &[OpenOrder<'a>]) -> HashMap<&'a Id, Vec<usize>> {
    let mut waiting: HashMap<&Id, Vec<usize>> = HashMap::new();
    for (place, open) in orders.iter().enumerate() {
        for (line, _) in &open.lines {
            let places = waiting.entry(&line.product).or_default();
            if places.last() != Some(&place) {
                places.push(place);
            }
        }
    }
    waiting
}

/// Matches a receipt that names no order with those in `waiting`, which the filled ones leave.
fn match_receipt(orders: &mut [OpenOrder<'_>], waiting: &mut Vec<usize>, receipt: &Receipt) {
    let mut left = receipt.containers;
    let mut next = 0;
    while let Some(open) = waiting.get(next).map(|place| &mut orders[*place]) {
        if left == 0 || open.order.placed_at > receipt.at {
            break;
        }
        if receipt.supplier.as_ref().is_none_or(|from| *from == open.order.supplier) {
            left -= open.take(receipt, left);
        }
        if open.waits_for(&receipt.product) {
            next += 1;
        } else {
            waiting.remove(next);
        }
    }
}

impl OpenOrder<'_> {
    /// Takes as much of a receipt as it waits for, `most` at most; gives how much that was.
    fn take(&mut self, receipt: &Receipt, most: u32) -> u32 {
        let mut left = most;
        for (line, missing) in &mut self.lines {
            if line.product == receipt.product {
                let matched = left.min(*missing);
                *missing -= matched;
                left -= matched;
            }
        }
        if left < most {
            self.first_receipt_at.get_or_insert(receipt.at);
        }
        most - left
    }

    fn waits_for(&self, product: &Id) -> bool {
        self.lines.iter().any(|(line, missing)| *missing > 0 && line.product == *product)
    }
}
