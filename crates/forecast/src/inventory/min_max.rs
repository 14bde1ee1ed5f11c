//! (s, S) in whole pieces: at each review, at s or below, order up to S. Exact.

use super::demand::CountDemand;
use super::error::{InventoryError, positive};
use super::newsvendor::{UnitCosts, newsvendor, newsvendor_cost};

/// The widest S − s that is looked at, in pieces.
const MAX_WIDTH: usize = 100_000;

/// When to order, how far, and what it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinMax {
    /// Stock position at or below which to order, in pieces.
    pub min: i64,
    /// Stock position to order up to, in pieces.
    pub max: i64,
    /// Mean cost of a period.
    pub cost_per_period: f64,
}

/// The best (s, S) for `demand` of one period, with no lead time: `costs` of one piece over, or
/// owed, at the end of a period, and `order_cost` of one order.
///
/// # Errors
/// [`InventoryError::NotPositive`] for the order cost; [`InventoryError::NotSettled`] where s and
/// S would lie more than a hundred thousand pieces apart.
///
/// Source: Zheng & Federgruen 1991, *Operations Research* 39(4); Snyder & Shen, ch. 4, example 4.7.
pub fn best_min_max(
    demand: &impl CountDemand,
    costs: UnitCosts,
    order_cost: f64,
) -> Result<MinMax, InventoryError> {
    let mut policies = Policies::new(demand, costs, order_cost)?;
    let mut max = newsvendor(demand, costs).level as i64;
    let mut min = max - 1;
    while policies.cost(min, max)? > policies.period_cost(min) {
        min -= 1;
    }
    let mut best = policies.cost(min, max)?;
    let mut candidate = max + 1;
    while policies.period_cost(candidate) <= best {
        if policies.cost(min, candidate)? < best {
            max = candidate;
            while policies.cost(min, max)? <= policies.period_cost(min + 1) {
                min += 1;
            }
            best = policies.cost(min, max)?;
        }
        candidate += 1;
    }
    Ok(MinMax { min, max, cost_per_period: best })
}

/// Mean cost of a period of a given (s, S); parameters as in [`best_min_max`].
///
/// # Errors
/// [`InventoryError::NotPositive`] for the order cost and where `max` is not above `min`;
/// [`InventoryError::NotSettled`] where they lie too far apart.
pub fn min_max_cost(
    min: i64,
    max: i64,
    demand: &impl CountDemand,
    costs: UnitCosts,
    order_cost: f64,
) -> Result<f64, InventoryError> {
    positive("max less min", (max - min) as f64)?;
    Policies::new(demand, costs, order_cost)?.cost(min, max)
}

/// The costs of policies, with the renewal numbers worked out as far as they were asked for.
struct Policies<'a, D> {
    demand: &'a D,
    costs: UnitCosts,
    order_cost: f64,
    /// The chance that a period has some demand.
    some: f64,
    /// m(j): mean number of periods that end j pieces below S before the next order.
    visits: Vec<f64>,
}

impl<'a, D: CountDemand> Policies<'a, D> {
    fn new(demand: &'a D, costs: UnitCosts, order_cost: f64) -> Result<Self, InventoryError> {
        let some = positive("chance of any demand", demand.chance_above(0))?;
        Ok(Self {
            demand,
            costs,
            order_cost: positive("order_cost", order_cost)?,
            some,
            visits: vec![1.0 / some],
        })
    }

    /// Mean cost of one period that starts with the stock position `position`.
    fn period_cost(&self, position: i64) -> f64 {
        newsvendor_cost(self.demand, self.costs, position as f64)
    }

    /// (K + Σ m(j)·g(S − j)) / Σ m(j) over j = 0 … S − s − 1: the cost of one cycle between
    /// orders by the length of one.
    fn cost(&mut self, min: i64, max: i64) -> Result<f64, InventoryError> {
        let width = usize::try_from(max - min).unwrap_or(usize::MAX);
        if width > MAX_WIDTH {
            return Err(InventoryError::NotSettled {
                name: "max less min",
                steps: MAX_WIDTH as u32,
                value: (max - min) as f64,
            });
        }
        while self.visits.len() < width {
            let next = self.next_visits();
            self.visits.push(next);
        }
        let visits = &self.visits[..width];
        let held = visits.iter().zip(0_i64..);
        let held: f64 = held.map(|(m, j)| m * self.period_cost(max - j)).sum();
        Ok((self.order_cost + held) / visits.iter().sum::<f64>())
    }

    /// m(j) = Σ f(l)·m(j − l) over l = 1 … j, by 1 − f(0).
    fn next_visits(&self) -> f64 {
        let back = self.visits.iter().rev().zip(1_u64..);
        let reached: f64 = back.map(|(m, l)| m * self.demand.chance_of(l)).sum();
        reached / self.some
    }
}
