//! How much to order at a time when demand is steady: the economic order quantity.

use super::error::{InventoryError, positive, zero_or_more};

/// A quantity to order at a time and what it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lot {
    /// What is ordered at a time, a quantity.
    pub quantity: f64,
    /// Cost of a period. With discounts it has the purchases in it, else it has not.
    pub cost_per_period: f64,
}

/// A lot of which a part is promised before it is there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BackorderLot {
    /// The lot.
    pub lot: Lot,
    /// The share of demand that waits for the next lot, 0 to 1.
    pub backordered_share: f64,
}

/// From `from_quantity` on, every unit of the order costs `unit_cost`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PriceStep {
    /// The smallest order at this price, a quantity.
    pub from_quantity: f64,
    /// Price of one unit.
    pub unit_cost: f64,
}

/// √(2Kλ/h): with `order_cost` K for each order, `holding_cost` h of one unit for one period and
/// `demand_rate` λ units a period.
///
/// # Errors
/// [`InventoryError::Negative`] for the order cost, [`InventoryError::NotPositive`] for the rest.
///
/// Source: Snyder & Shen, ch. 3, example 3.1; Harris 1913.
///
/// ```
/// use capful_forecast::inventory::economic_order_quantity;
/// let lot = economic_order_quantity(8.0, 0.225, 1300.0)?;
/// assert!((lot.quantity - 304.05).abs() < 0.005);
/// # Ok::<(), capful_forecast::inventory::InventoryError>(())
/// ```
pub fn economic_order_quantity(
    order_cost: f64,
    holding_cost: f64,
    demand_rate: f64,
) -> Result<Lot, InventoryError> {
    let order_cost = zero_or_more("order_cost", order_cost)?;
    let holding_cost = positive("holding_cost", holding_cost)?;
    let demand_rate = positive("demand_rate", demand_rate)?;
    Ok(Lot {
        quantity: (2.0 * order_cost * demand_rate / holding_cost).sqrt(),
        cost_per_period: (2.0 * order_cost * demand_rate * holding_cost).sqrt(),
    })
}

/// The economic order quantity when a unit may be owed, at `backorder_cost` p a unit and period.
/// The share h/(h + p) of demand waits.
///
/// # Errors
/// As [`economic_order_quantity`], and [`InventoryError::NotPositive`] for the backorder cost.
///
/// Source: Snyder & Shen, ch. 3 (planned backorders), example 3.8.
pub fn economic_order_quantity_backorders(
    order_cost: f64,
    holding_cost: f64,
    backorder_cost: f64,
    demand_rate: f64,
) -> Result<BackorderLot, InventoryError> {
    let plain = economic_order_quantity(order_cost, holding_cost, demand_rate)?;
    let backorder_cost = positive("backorder_cost", backorder_cost)?;
    let backordered_share = holding_cost / (holding_cost + backorder_cost);
    let kept = (1.0 - backordered_share).sqrt();
    Ok(BackorderLot {
        lot: Lot { quantity: plain.quantity / kept, cost_per_period: plain.cost_per_period * kept },
        backordered_share,
    })
}

/// The economic order quantity where a large order is cheaper by the unit, all units at the
/// price of the order's size. `holding_rate` is a period's holding cost as a share of value;
/// `steps` rise in quantity and fall in price, and the first starts at no quantity.
///
/// # Errors
/// As [`economic_order_quantity`]; [`InventoryError::Empty`] and [`InventoryError::OutOfOrder`]
/// for the steps.
///
/// Source: Snyder & Shen, ch. 3 (all-units quantity discounts).
pub fn economic_order_quantity_all_units(
    order_cost: f64,
    holding_rate: f64,
    demand_rate: f64,
    steps: &[PriceStep],
) -> Result<Lot, InventoryError> {
    check_steps(steps)?;
    let holding_rate = positive("holding_rate", holding_rate)?;
    // Each price has one best order: its own economic order quantity, or, where that is too small
    // for the price, the smallest order that has it. One that is too large for the price is
    // cheaper still at the next, so it need not be cut.
    let mut best: Option<Lot> = None;
    for step in steps {
        let holding_cost = holding_rate * step.unit_cost;
        let plain = economic_order_quantity(order_cost, holding_cost, demand_rate)?;
        let quantity = plain.quantity.max(step.from_quantity);
        let running = if quantity > plain.quantity {
            order_cost * demand_rate / quantity + 0.5 * holding_cost * quantity
        } else {
            plain.cost_per_period
        };
        let cost_per_period = demand_rate * step.unit_cost + running;
        if best.is_none_or(|lot| cost_per_period < lot.cost_per_period) {
            best = Some(Lot { quantity, cost_per_period });
        }
    }
    best.ok_or(InventoryError::Empty { name: "steps" })
}

fn check_steps(steps: &[PriceStep]) -> Result<(), InventoryError> {
    for step in steps {
        positive("unit_cost", step.unit_cost)?;
        zero_or_more("from_quantity", step.from_quantity)?;
    }
    if let Some(first) = steps.first().filter(|first| first.from_quantity > 0.0) {
        return Err(InventoryError::OutOfOrder {
            name: "from_quantity",
            value: first.from_quantity,
        });
    }
    for pair in steps.windows(2) {
        if pair[1].from_quantity <= pair[0].from_quantity {
            return Err(InventoryError::OutOfOrder {
                name: "from_quantity",
                value: pair[1].from_quantity,
            });
        }
        if pair[1].unit_cost >= pair[0].unit_cost {
            return Err(InventoryError::OutOfOrder { name: "unit_cost", value: pair[1].unit_cost });
        }
    }
    Ok(())
}
