//! Scenarios of what jobs may take, and the shelf walked through them.

pub(crate) mod order_cost;
pub(crate) mod scenarios;
pub(crate) mod shelf;
pub(crate) mod stock;
pub(crate) mod stock_uncertainty;
pub(crate) mod supply;
pub(crate) mod walk;
