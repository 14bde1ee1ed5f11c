//! Several products of one supplier: one order's fixed cost is shared, and not everything has to
//! be in every order.

use super::error::{InventoryError, positive, zero_or_more};

/// One product of a joint order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JointItem {
    /// Fixed cost of having this product in an order at all.
    pub line_cost: f64,
    /// Cost of holding one unit for one period.
    pub holding_cost: f64,
    /// Units of demand a period.
    pub demand_rate: f64,
}

impl JointItem {
    /// hλ, what a period's demand costs to hold for a period.
    fn holding_rate(&self) -> f64 {
        self.holding_cost * self.demand_rate
    }
}

/// How often to order from one supplier, and what.
#[derive(Debug, Clone, PartialEq)]
pub struct JointCycle {
    /// Periods from one order to the next.
    pub cycle_periods: f64,
    /// For each product, in which orders it is: in every one (1), every second (2), …
    pub multiples: Vec<u32>,
    /// For each product, what is ordered when it is: a quantity.
    pub quantities: Vec<f64>,
    /// Fixed and holding cost of a period.
    pub cost_per_period: f64,
}

/// Silver's heuristic for the joint replenishment problem. `order_cost` is what one order costs
/// whatever is in it. The product with the smallest line cost for its holding is in every order;
/// the others come every mᵢ orders, mᵢ = √((kᵢ/hᵢλᵢ)·(h₁λ₁/(K + k₁))), rounded, at least 1.
///
/// # Errors
/// [`InventoryError::Empty`] without items; [`InventoryError::Negative`] for a fixed cost;
/// [`InventoryError::NotPositive`] for a holding cost or demand rate, and for the fixed costs
/// where they are all zero.
///
/// Source: Silver 1976, *Management Science* 22(12); Silver, Pyke & Thomas, chapter on coordinated
/// replenishment.
pub fn joint_replenishment(
    order_cost: f64,
    items: &[JointItem],
) -> Result<JointCycle, InventoryError> {
    let order_cost = zero_or_more("order_cost", order_cost)?;
    for item in items {
        zero_or_more("line_cost", item.line_cost)?;
        positive("holding_cost", item.holding_cost)?;
        positive("demand_rate", item.demand_rate)?;
    }
    let ratio = |item: &JointItem| item.line_cost / item.holding_rate();
    let first = items.iter().min_by(|a, b| ratio(a).total_cmp(&ratio(b)));
    let first = first.ok_or(InventoryError::Empty { name: "items" })?;
    let lead_cost = positive("order_cost and line_cost", order_cost + first.line_cost)?;
    let per_lead_cost = first.holding_rate() / lead_cost;
    let multiple = |item| (ratio(item) * per_lead_cost).sqrt().round().max(1.0);
    let multiples: Vec<f64> = items.iter().map(multiple).collect();

    let pairs = || items.iter().zip(&multiples);
    let fixed = order_cost + pairs().map(|(i, m)| i.line_cost / m).sum::<f64>();
    let holding = pairs().map(|(i, m)| i.holding_rate() * m).sum::<f64>();
    let cycle_periods = (2.0 * fixed / holding).sqrt();
    Ok(JointCycle {
        cycle_periods,
        quantities: pairs().map(|(i, m)| i.demand_rate * m * cycle_periods).collect(),
        cost_per_period: (2.0 * fixed * holding).sqrt(),
        multiples: multiples.iter().map(|&m| m as u32).collect(),
    })
}
