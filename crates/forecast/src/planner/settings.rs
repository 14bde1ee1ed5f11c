//! How plans are made.

/// How the planner works; nothing in it says what the shop wants (that is in the shop's own
/// settings).
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSettings {
    /// Futures drawn. More make the chances finer and the plan slower.
    pub futures: u32,
}

impl Default for PlanSettings {
    fn default() -> Self {
        Self { futures: 400 }
    }
}
