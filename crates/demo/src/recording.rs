//! What the shop writes down of what happens: rows with ids that count up.

use capful_domain::facts::{
    Count, Discard, DiscardReason, Method, Mix, Opening, Order, OrderLine, OrderStatus, Pour,
    Receipt,
};
use capful_domain::{Amount, ContainerId, Facts, Id, Product, Quantity, Ratio, Unit};
use chrono::{DateTime, Utc};
use rust_decimal::Decimal;

use crate::id;

/// The rows written so far.
#[derive(Debug, Clone, Default)]
pub struct Records {
    pours: Vec<Pour>,
    receipts: Vec<Receipt>,
    openings: Vec<Opening>,
    discards: Vec<Discard>,
    mixes: Vec<Mix>,
    counts: Vec<Count>,
    orders: Vec<Order>,
    order_lines: Vec<OrderLine>,
}

/// A quantity as it is written in the product's unit.
pub fn amount(product: &Product, quantity: Quantity) -> Amount {
    Amount { number: quantity.in_unit(product.unit), unit: product.unit }
}

/// What a pour says beside its product and moment.
#[derive(Debug, Clone)]
pub struct Poured {
    /// How much; of the mix where there is a ratio.
    pub quantity: Quantity,
    /// The ratio it was measured at.
    pub ratio: Ratio,
    /// For which job.
    pub job: Id,
    /// Out of which container, where that is written.
    pub container: Option<ContainerId>,
    /// Whether the scale was used.
    pub weighed: bool,
}

/// What a count says beside its product and moment.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// How much was seen.
    pub amount: Option<Amount>,
    /// Weight with the container.
    pub gross_g: Option<Decimal>,
    /// Of one container only.
    pub container: Option<ContainerId>,
    /// Sealed containers.
    pub sealed: Option<u32>,
    /// How exact, in thousandths.
    pub sd_thousandths: Option<i64>,
}

impl Records {
    /// A measured pour.
    pub fn pour(&mut self, at: DateTime<Utc>, product: &Product, poured: Poured) {
        let density = product.density_g_ml.filter(|_| poured.weighed && poured.ratio.is_neat());
        let written = amount(product, poured.quantity);
        let written = match density {
            // To the tenth of a gram, never more than was taken.
            Some(density) => Amount {
                number: (written.number * density * Decimal::TEN).floor() / Decimal::TEN,
                unit: Unit::G,
            },
            None => written,
        };
        self.pours.push(Pour {
            id: next_id("P", 5, self.pours.len()),
            at,
            product: product.id.clone(),
            amount: Amount { number: written.number.normalize(), ..written },
            job: Some(poured.job),
            ratio: Some(poured.ratio).filter(|ratio| !ratio.is_neat()),
            container: poured.container,
            method: Some(if density.is_some() { Method::Weighed } else { Method::Measured }),
        });
    }

    /// A receipt; answers its id.
    pub fn receipt(&mut self, build: impl FnOnce(Id) -> Receipt) -> Id {
        let id = next_id("R", 4, self.receipts.len());
        self.receipts.push(build(id.clone()));
        id
    }

    /// An opening.
    pub fn opening(
        &mut self,
        at: DateTime<Utc>,
        product: &Product,
        container: Option<ContainerId>,
    ) {
        let id = next_id("U", 4, self.openings.len());
        self.openings.push(Opening { id, at, product: product.id.clone(), container });
    }

    /// Something thrown away; `None` is the whole container.
    pub fn discard(
        &mut self,
        at: DateTime<Utc>,
        product: &Product,
        container: ContainerId,
        quantity: Option<Quantity>,
        reason: DiscardReason,
    ) {
        self.discards.push(Discard {
            id: next_id("D", 4, self.discards.len()),
            at,
            product: product.id.clone(),
            amount: quantity.map(|quantity| amount(product, quantity)),
            container: Some(container),
            reason: Some(reason),
        });
    }

    /// A mix; answers the container that it fills.
    pub fn mix(
        &mut self,
        at: DateTime<Utc>,
        product: &Product,
        quantity: Quantity,
        ratio: Ratio,
        container: Option<ContainerId>,
    ) -> ContainerId {
        let id = next_id("M", 4, self.mixes.len());
        let filled = ContainerId::of_mix(&id);
        let amount = amount(product, quantity);
        self.mixes.push(Mix { id, at, product: product.id.clone(), amount, ratio, container });
        filled
    }

    /// A count.
    pub fn count(&mut self, at: DateTime<Utc>, product: &Product, seen: Seen) {
        self.counts.push(Count {
            id: next_id("C", 4, self.counts.len()),
            at,
            product: product.id.clone(),
            amount: seen.amount,
            gross_g: seen.gross_g,
            container: seen.container,
            sealed: seen.sealed,
            sd_share: seen.sd_thousandths.map(|n| Decimal::new(n, 3).normalize()),
        });
    }

    /// An order with its lines (product, packs, supplier's code); answers its id.
    pub fn order(
        &mut self,
        placed_at: DateTime<Utc>,
        supplier: &Id,
        lines: Vec<(Id, u32, Option<String>)>,
    ) -> Id {
        let id = next_id("O", 4, self.orders.len());
        let status = Some(OrderStatus::Placed);
        self.orders.push(Order { id: id.clone(), placed_at, supplier: supplier.clone(), status });
        let line = |(product, packs, supplier_code)| OrderLine {
            order: id.clone(),
            product,
            packs,
            supplier_code,
        };
        self.order_lines.extend(lines.into_iter().map(line));
        id
    }

    /// All of an order has come.
    pub fn order_received(&mut self, order: &Id) {
        for row in self.orders.iter_mut().filter(|row| row.id == *order) {
            row.status = Some(OrderStatus::Received);
        }
    }

    /// Writes everything into `facts`.
    pub fn into_facts(self, facts: &mut Facts) {
        facts.pours = self.pours;
        facts.receipts = self.receipts;
        facts.openings = self.openings;
        facts.discards = self.discards;
        facts.mixes = self.mixes;
        facts.counts = self.counts;
        facts.orders = self.orders;
        facts.order_lines = self.order_lines;
    }
}

fn next_id(letter: &str, digits: usize, rows: usize) -> Id {
    id(&format!("{letter}-{:0digits$}", rows + 1))
}
