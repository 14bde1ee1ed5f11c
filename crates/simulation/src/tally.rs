//! What running the shop has cost beyond the goods that jobs used.

/// Sums since the first day, in the shop's currency.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tally {
    /// Deliveries.
    pub freight: f64,
    /// Money tied up and space.
    pub holding: f64,
    /// What went past its use-by.
    pub expired: f64,
    /// Jobs that could not go on.
    pub stalls: f64,
    /// How many jobs that were.
    pub stalled_jobs: f64,
    /// Jobs done.
    pub jobs: f64,
    /// What was paid for goods.
    pub goods: f64,
    /// Orders placed.
    pub orders: f64,
}

impl Tally {
    /// Freight, holding, what went off, stalls.
    #[must_use]
    pub fn avoidable(&self) -> f64 {
        self.freight + self.holding + self.expired + self.stalls
    }

    /// What has come since an earlier tally.
    #[must_use]
    pub fn since(&self, before: &Self) -> Self {
        Self {
            freight: self.freight - before.freight,
            holding: self.holding - before.holding,
            expired: self.expired - before.expired,
            stalls: self.stalls - before.stalls,
            stalled_jobs: self.stalled_jobs - before.stalled_jobs,
            jobs: self.jobs - before.jobs,
            goods: self.goods - before.goods,
            orders: self.orders - before.orders,
        }
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        self.since(&Self::default().since(other))
    }
}
