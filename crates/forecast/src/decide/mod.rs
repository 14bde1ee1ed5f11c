//! What to do: what to order, which jobs the shelf carries, what goes off, what to count.

pub(crate) mod choose;
pub(crate) mod going_off;
pub(crate) mod line_parts;
pub(crate) mod outlook;
pub(crate) mod product_result;
pub(crate) mod projection;
pub(crate) mod readiness;
pub(crate) mod shortage;
pub mod sums;
pub(crate) mod warnings;
pub(crate) mod weekly_order;
