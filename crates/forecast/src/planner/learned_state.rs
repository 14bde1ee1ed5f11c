//! What the past teaches, and how the shelf stands by it.

use capful_domain::{Ledger, Snapshot};

use crate::learn::learned_model::LearnedModel;
use crate::simulate::stock_uncertainty::StockUncertainty;

/// What the past teaches, and how the shelf stands by it.
#[derive(Debug)]
pub(crate) struct LearnedState {
    pub lessons: LearnedModel,
    pub ledger: Ledger,
    pub uncertainties: Vec<StockUncertainty>,
}

impl LearnedState {
    pub fn of(snapshot: &Snapshot, lessons: LearnedModel) -> Self {
        let (index, usage) = (&lessons.index, &lessons.usage);
        let ledger = snapshot.ledger(&usage.expected_pours(snapshot, index));
        let uncertainties = StockUncertainty::of(snapshot, index, usage, &lessons.uses, &ledger);
        Self { lessons, ledger, uncertainties }
    }
}
