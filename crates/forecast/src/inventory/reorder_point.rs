//! (r, Q): watch all the time; at the stock position r order Q. Normal demand.

use super::continuous_demand::NormalDemand;
use super::demand::{Demand, Service};
use super::eoq::{economic_order_quantity, economic_order_quantity_backorders};
use super::error::{InventoryError, positive};
use super::newsvendor::{UnitCosts, newsvendor, newsvendor_cost};
use super::root::crossing;
use super::standard_normal::standard_normal_loss_inverse;

/// Steps that an iteration for r and Q may take.
const MAX_STEPS: u32 = 1_000;

/// An iteration ends when Q changes by less than this share of itself.
const SETTLED: f64 = 1e-12;

/// When to order and how much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReorderPoint {
    /// Stock on hand and on order, less what is owed, at which to order: a quantity.
    pub reorder_point: f64,
    /// What to order: a quantity.
    pub quantity: f64,
}

/// A product with normal demand, a fixed lead time and the costs of ordering, holding and owing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReorderPointModel {
    costs: UnitCosts,
    order_cost: f64,
    demand_rate: f64,
    lead_demand: NormalDemand,
}

impl ReorderPointModel {
    /// `costs` are of one unit held, or owed, for one period (in
    /// [`least_cost_per_shortage`](Self::least_cost_per_shortage) for one unit owed at all);
    /// `order_cost` is of one order, `period_demand` of one period, `lead_periods` from order to
    /// shelf.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`].
    pub fn new(
        costs: UnitCosts,
        order_cost: f64,
        period_demand: NormalDemand,
        lead_periods: f64,
    ) -> Result<Self, InventoryError> {
        let lead_periods = positive("lead_periods", lead_periods)?;
        Ok(Self {
            costs,
            order_cost: positive("order_cost", order_cost)?,
            demand_rate: positive("demand mean", period_demand.mean())?,
            lead_demand: period_demand.over_periods(lead_periods)?,
        })
    }

    /// Mean cost of a period: Kλ/Q + h·(r − μ + Q/2) + (h + p)·(n₂(r) − n₂(r + Q))/Q, with n₂ the
    /// second-order loss of the lead time's demand.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] for the quantity.
    ///
    /// Source: Snyder & Shen, ch. 5, example 5.1; the integral over the stock position in closed
    /// form.
    pub fn cost(&self, policy: ReorderPoint) -> Result<f64, InventoryError> {
        let q = positive("quantity", policy.quantity)?;
        let r = policy.reorder_point;
        let (h, p) = (self.costs.overage(), self.costs.underage());
        let second = |stock| self.lead_demand.second_order_loss(stock);
        let over = r - self.lead_demand.mean() + q / 2.0;
        let owed = (second(r) - second(r + q)) / q;
        Ok(self.order_cost * self.demand_rate / q + h * over + (h + p) * owed)
    }

    /// The best reorder point for a given quantity: where the newsvendor cost of the lead time's
    /// demand is the same at r and at r + Q.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`] for the quantity.
    ///
    /// Source: Snyder & Shen, ch. 5 (condition g(r) = g(r + Q)).
    pub fn reorder_point_for(&self, quantity: f64) -> Result<f64, InventoryError> {
        let q = positive("quantity", quantity)?;
        let middle = newsvendor(&self.lead_demand, self.costs).level;
        let cost = |stock| newsvendor_cost(&self.lead_demand, self.costs, stock);
        Ok(crossing(middle - q, middle, |r| cost(r + q) - cost(r)))
    }

    /// Q from the economic order quantity with backorders, then the best r for it.
    ///
    /// # Errors
    /// [`InventoryError`] where Q is out of the range of double precision.
    ///
    /// Source: Snyder & Shen, ch. 5 (EOQB approximation).
    pub fn eoq_backorders(&self) -> Result<ReorderPoint, InventoryError> {
        let (h, p) = (self.costs.overage(), self.costs.underage());
        let lot = economic_order_quantity_backorders(self.order_cost, h, p, self.demand_rate)?.lot;
        Ok(ReorderPoint {
            reorder_point: self.reorder_point_for(lot.quantity)?,
            quantity: lot.quantity,
        })
    }

    /// Q the economic order quantity, r the newsvendor's level for the lead time's demand.
    ///
    /// # Errors
    /// [`InventoryError`] where Q is out of the range of double precision.
    ///
    /// Source: Snyder & Shen, ch. 5 (EOQ + SS approximation), example 5.5.
    pub fn eoq_safety_stock(&self) -> Result<ReorderPoint, InventoryError> {
        let holding = self.costs.overage();
        let lot = economic_order_quantity(self.order_cost, holding, self.demand_rate)?;
        Ok(ReorderPoint {
            reorder_point: newsvendor(&self.lead_demand, self.costs).level,
            quantity: lot.quantity,
        })
    }

    /// r and Q together where a shortage costs by the unit, however long: expected inventory
    /// level approximation. Answers the policy and its cost of a period by the same
    /// approximation.
    ///
    /// # Errors
    /// [`InventoryError::NotAShare`] where holding is so dear that no stock is worth it,
    /// [`InventoryError::NotSettled`].
    ///
    /// Source: Snyder & Shen, ch. 5 (EIL approximation), example 5.2; Hadley & Whitin 1963.
    pub fn least_cost_per_shortage(&self) -> Result<(ReorderPoint, f64), InventoryError> {
        let (h, p) = (self.costs.overage(), self.costs.underage());
        let rate = self.demand_rate;
        let reorder_point =
            |q: f64| Service::new(1.0 - q * h / (p * rate)).map(|s| self.lead_demand.quantile(s));
        let policy = self.settle(reorder_point, |r| {
            (2.0 * rate * (self.order_cost + p * self.lead_demand.loss(r)) / h).sqrt()
        })?;
        let (r, q) = (policy.reorder_point, policy.quantity);
        let held = h * (r - self.lead_demand.mean() + q / 2.0);
        let cost = held + rate * (self.order_cost + p * self.lead_demand.loss(r)) / q;
        Ok((policy, cost))
    }

    /// r and Q together from [`cost`](Self::cost) less its term n₂(r + Q), which is next to
    /// nothing where a lot outlasts the lead time: loss-function approximation.
    ///
    /// # Errors
    /// [`InventoryError::NotSettled`].
    ///
    /// Source: Snyder & Shen, ch. 5 (loss-function approximation), example 5.6.
    pub fn loss_function(&self) -> Result<ReorderPoint, InventoryError> {
        let (h, p) = (self.costs.overage(), self.costs.underage());
        let (mean, sd) = (self.lead_demand.mean(), self.lead_demand.sd());
        self.settle(
            |q| Ok(mean + sd * standard_normal_loss_inverse(h * q / ((h + p) * sd))?),
            |r| {
                let owed = (h + p) * self.lead_demand.second_order_loss(r);
                (2.0 * (self.order_cost * self.demand_rate + owed) / h).sqrt()
            },
        )
    }

    /// The chance that an order arrives before the shelf is empty, with this reorder point.
    pub fn cycle_service(&self, reorder_point: f64) -> f64 {
        1.0 - self.lead_demand.tail(reorder_point)
    }

    /// Turns from Q to r and back until Q no longer changes, starting at the economic order
    /// quantity.
    fn settle(
        &self,
        reorder_point: impl Fn(f64) -> Result<f64, InventoryError>,
        quantity: impl Fn(f64) -> f64,
    ) -> Result<ReorderPoint, InventoryError> {
        let holding = self.costs.overage();
        let start = economic_order_quantity(self.order_cost, holding, self.demand_rate)?;
        let mut q = start.quantity;
        for _ in 0..MAX_STEPS {
            let r = reorder_point(q)?;
            let next = quantity(r);
            if (next - q).abs() <= SETTLED * next {
                return Ok(ReorderPoint { reorder_point: r, quantity: next });
            }
            q = next;
        }
        Err(InventoryError::NotSettled { name: "order quantity", steps: MAX_STEPS, value: q })
    }
}
