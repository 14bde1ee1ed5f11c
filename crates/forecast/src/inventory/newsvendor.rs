//! One order for one span of demand: what is short is lost, what is over is lost too.

use super::demand::{Demand, Service};
use super::error::{InventoryError, finite, positive};

/// What one unit costs when it is left over, and when it is missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitCosts {
    overage: f64,
    underage: f64,
    critical_ratio: Service,
}

impl UnitCosts {
    /// Cost of one unit left over (holding) and of one unit short (stock-out), both above zero.
    ///
    /// # Errors
    /// [`InventoryError::NotPositive`]; [`InventoryError::NotAShare`] where one is so much larger
    /// than the other that the critical ratio rounds to 0 or 1.
    pub fn new(overage: f64, underage: f64) -> Result<Self, InventoryError> {
        let overage = positive("overage", overage)?;
        let underage = positive("underage", underage)?;
        Ok(Self {
            overage,
            underage,
            critical_ratio: Service::new(underage / (overage + underage))?,
        })
    }

    /// Cost of one unit left over.
    pub fn overage(self) -> f64 {
        self.overage
    }

    /// Cost of one unit short.
    pub fn underage(self) -> f64 {
        self.underage
    }

    /// p / (h + p), the chance that the best stock is enough.
    pub fn critical_ratio(self) -> Service {
        self.critical_ratio
    }
}

/// What one unit sells for, costs, and still fetches when it is left over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitPrices {
    revenue: f64,
    costs: UnitCosts,
}

impl UnitPrices {
    /// Prices of one unit, with `salvage < cost < revenue`; what salvages at a negative price has
    /// to be paid for to be rid of.
    ///
    /// # Errors
    /// [`InventoryError::NotFinite`] for a price, [`InventoryError::NotPositive`] (of the
    /// difference) where the prices are not in that order.
    pub fn new(revenue: f64, cost: f64, salvage: f64) -> Result<Self, InventoryError> {
        let revenue = finite("revenue", revenue)?;
        let cost = finite("cost", cost)?;
        let salvage = finite("salvage", salvage)?;
        Ok(Self { revenue, costs: UnitCosts::new(cost - salvage, revenue - cost)? })
    }

    /// The same problem told in costs: left over is cost − salvage, short is revenue − cost.
    pub fn costs(self) -> UnitCosts {
        self.costs
    }

    /// What one unit sells for.
    pub fn revenue(self) -> f64 {
        self.revenue
    }

    /// Mean profit of one span with the stock `level`: (r − c)·E\[X\] less the newsvendor cost.
    ///
    /// Source: Snyder & Shen, ch. 4, example 4.2.
    pub fn profit(self, demand: &(impl Demand + ?Sized), level: f64) -> f64 {
        self.costs.underage * demand.mean() - newsvendor_cost(demand, self.costs, level)
    }
}

/// A stock level and what it costs on average.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StockLevel {
    /// Stock at the start of the span, a quantity.
    pub level: f64,
    /// Mean cost of the span.
    pub cost: f64,
}

/// The stock that costs least for one span of `demand`: the quantile at the critical ratio. For
/// count demand it is the least whole stock that reaches it.
///
/// With a lead time the same answer over lead time and one period more is the base-stock level
/// of periodic review (`over_periods`).
///
/// Source: Snyder & Shen, ch. 4, examples 4.3 and 4.7; section 4.3.4 for the lead time.
pub fn newsvendor(demand: &(impl Demand + ?Sized), costs: UnitCosts) -> StockLevel {
    let level = demand.quantile(costs.critical_ratio);
    StockLevel { level, cost: newsvendor_cost(demand, costs, level) }
}

/// Mean cost h·E[(S − X)⁺] + p·E[(X − S)⁺] of one span with the stock `level`.
pub fn newsvendor_cost(demand: &(impl Demand + ?Sized), costs: UnitCosts, level: f64) -> f64 {
    costs.overage * demand.complementary_loss(level) + costs.underage * demand.loss(level)
}
