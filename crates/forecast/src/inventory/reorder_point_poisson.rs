//! (r, Q) in whole pieces: Poisson demand, exact.

use super::count_demand::PoissonDemand;
use super::error::{InventoryError, positive};
use super::newsvendor::{UnitCosts, newsvendor, newsvendor_cost};

/// The largest lot that is looked at.
const MAX_QUANTITY: u32 = 1_000_000;

/// When to order, how much, and what it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoissonReorderPoint {
    /// Stock position at which to order, in pieces; below zero when it pays to owe some.
    pub reorder_point: i64,
    /// What to order, in pieces.
    pub quantity: u32,
    /// Mean cost of a period.
    pub cost_per_period: f64,
}

/// The best (r, Q): `costs` of one piece held, or owed, for one period, `order_cost` of one
/// order, `demand_rate` pieces a period, `lead_periods` from order to shelf.
///
/// The stock position is equally often at each of r + 1 … r + Q, so the best Q positions are
/// those where the newsvendor cost of the lead time's demand is least. They grow from its
/// minimum, one piece at a time to the cheaper side, for as long as that lowers the mean.
///
/// # Errors
/// [`InventoryError::NotPositive`]; [`InventoryError::NotSettled`] where no lot up to a million
/// is large enough.
///
/// Source: Federgruen & Zheng 1992, *Operations Research* 40(4); Snyder & Shen, ch. 5, example 5.8.
pub fn poisson_reorder(
    costs: UnitCosts,
    order_cost: f64,
    demand_rate: f64,
    lead_periods: f64,
) -> Result<PoissonReorderPoint, InventoryError> {
    let ordering = positive("order_cost", order_cost)? * positive("demand_rate", demand_rate)?;
    let lead_demand = PoissonDemand::new(demand_rate)?.over_periods(lead_periods)?;
    let cost_at = |position: i64| newsvendor_cost(&lead_demand, costs, position as f64);
    let best = newsvendor(&lead_demand, costs).level as i64;
    let (mut lowest, mut highest) = (best, best);
    let mut sum = ordering + cost_at(best);
    let mut mean = sum;
    for quantity in 1..MAX_QUANTITY {
        let (below, above) = (cost_at(lowest - 1), cost_at(highest + 1));
        let next = below.min(above);
        if next >= mean {
            return Ok(PoissonReorderPoint {
                reorder_point: lowest - 1,
                quantity,
                cost_per_period: mean,
            });
        }
        if below <= above {
            lowest -= 1;
        } else {
            highest += 1;
        }
        sum += next;
        mean = sum / f64::from(quantity + 1);
    }
    Err(InventoryError::NotSettled { name: "order quantity", steps: MAX_QUANTITY, value: mean })
}

/// Mean cost of a period of a given policy; parameters as in [`poisson_reorder`].
///
/// # Errors
/// [`InventoryError::NotPositive`].
///
/// Source: Snyder & Shen, ch. 5, example 5.8.
pub fn poisson_reorder_cost(
    reorder_point: i64,
    quantity: u32,
    costs: UnitCosts,
    order_cost: f64,
    demand_rate: f64,
    lead_periods: f64,
) -> Result<f64, InventoryError> {
    let pieces = positive("quantity", f64::from(quantity))?;
    let ordering = positive("order_cost", order_cost)? * positive("demand_rate", demand_rate)?;
    let lead_demand = PoissonDemand::new(demand_rate)?.over_periods(lead_periods)?;
    let positions = (1..=i64::from(quantity)).map(|step| (reorder_point + step) as f64);
    let held: f64 = positions.map(|position| newsvendor_cost(&lead_demand, costs, position)).sum();
    Ok((ordering + held) / pieces)
}
