//! Classical inventory theory, as small pure functions.
//!
//! What a textbook answers in closed form, or in a few steps of arithmetic: how much to order
//! at a time, how far to fill up, how much is short on average. The planner writes some of these
//! numbers on the shelf (reorder point, order-up-to level); the rest are the yardsticks that the
//! planner's own answers are held against.
//!
//! Nothing here knows a product, a day or a unit. A *quantity* is in any one unit, a *period* is
//! any one length of time, and a cost is in any one currency: the caller keeps them the same
//! throughout. Parameters are checked where a value is built; afterwards nothing can fail that
//! the type does not say.
//!
//! | question | where |
//! | --- | --- |
//! | how much is short, or left over, on average | [`Demand`] and its distributions |
//! | how much for one season, one shelf life | [`newsvendor`](newsvendor()) |
//! | how much at a time | [`economic_order_quantity`] and its kin |
//! | what to order together, and how often each | [`joint_replenishment`](joint_replenishment()) |
//! | how far to fill up at each review: (R, S) | [`ProtectionDemand`] |
//! | when and how much, always watching: (r, Q) | [`ReorderPointModel`], [`poisson_reorder`] |
//! | when and how far, at each review: (s, S) | [`best_min_max`] |
//!
//! Sources: Snyder & Shen, *Fundamentals of Supply Chain Theory*, 2nd ed., chs. 3–5 and app. C;
//! Silver, Pyke & Thomas, *Inventory and Production Management in Supply Chains*, 4th ed.
//!
//! ```
//! use capful_forecast::inventory::{NormalDemand, UnitCosts, newsvendor};
//!
//! let demand = NormalDemand::new(50.0, 8.0)?;
//! let best = newsvendor(&demand, UnitCosts::new(0.18, 0.70)?);
//! assert!((best.level - 56.604).abs() < 1e-3);
//! # Ok::<(), capful_forecast::inventory::InventoryError>(())
//! ```

mod continuous_demand;
mod count_demand;
mod demand;
mod eoq;
mod error;
mod joint_replenishment;
mod min_max;
mod newsvendor;
mod periodic_review;
mod reorder_point;
mod reorder_point_poisson;
mod root;
mod standard_normal;

pub use continuous_demand::{GammaDemand, LognormalDemand, NormalDemand};
pub use count_demand::{DiscreteDemand, NegativeBinomialDemand, PoissonDemand};
pub use demand::{CountDemand, Demand, Service};
pub use eoq::{
    BackorderLot, Lot, PriceStep, economic_order_quantity, economic_order_quantity_all_units,
    economic_order_quantity_backorders,
};
pub use error::InventoryError;
pub use joint_replenishment::{JointCycle, JointItem, joint_replenishment};
pub use min_max::{MinMax, best_min_max, min_max_cost};
pub use newsvendor::{StockLevel, UnitCosts, UnitPrices, newsvendor, newsvendor_cost};
pub use periodic_review::{LeadTime, PeriodDemand, ProtectionDemand};
pub use reorder_point::{ReorderPoint, ReorderPointModel};
pub use reorder_point_poisson::{PoissonReorderPoint, poisson_reorder, poisson_reorder_cost};
pub use standard_normal::{standard_normal_loss, standard_normal_loss_inverse};
