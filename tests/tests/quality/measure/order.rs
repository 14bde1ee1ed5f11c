//! What a year costs, by who orders.

use capful_domain::Snapshot;
use capful_forecast::Plan;
use capful_simulation::{Buyer, Habit, Life, OwnersRule, Recipe, Tally};

use rust_decimal::Decimal;

use super::buyers::{Grouping, KeepTwo, Planned, Textbook};

pub const HISTORY_WEEKS: u32 = 52;
/// Weeks after a buyer took over that are not counted: what it found on the shelf and on its way
/// is the doing of whoever ordered before (warm-up; Law & Kelton, *Simulation Modeling and
/// Analysis*, ch. 9).
pub const WARM_UP_WEEKS: u32 = 6;
pub const YEAR_WEEKS: u32 = 52;

/// Who orders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    Plan,
    PlanTold,
    TextbookGrouped,
    TextbookLeastCost,
    Textbook,
    KeepTwo,
}

impl Policy {
    pub const ALL: [Self; 6] = [
        Self::Plan,
        Self::PlanTold,
        Self::TextbookGrouped,
        Self::TextbookLeastCost,
        Self::Textbook,
        Self::KeepTwo,
    ];

    pub fn buyer(self) -> Box<dyn Buyer> {
        match self {
            Self::Plan => Box::new(Planned::new(false)),
            Self::PlanTold => Box::new(Planned::new(true)),
            Self::TextbookGrouped => Box::new(Textbook { grouping: Grouping::TwoReviews }),
            Self::TextbookLeastCost => Box::new(Textbook { grouping: Grouping::LeastCost }),
            Self::Textbook => Box::new(Textbook { grouping: Grouping::None }),
            Self::KeepTwo => Box::new(KeepTwo),
        }
    }

    pub const fn name(self) -> &'static str {
        match self {
            Self::Plan => "the plan",
            Self::PlanTold => "the plan, told the truth",
            Self::TextbookGrouped => "(R,S) 99 %, by supplier",
            Self::TextbookLeastCost => "the same, least-cost cycle",
            Self::Textbook => "(R,S) 99 %",
            Self::KeepTwo => "keep two of everything",
        }
    }
}

/// A shop after a year of its own ordering.
pub fn after_a_year(recipe: &Recipe, seed: u64) -> Life {
    let mut life = Life::new(recipe, seed);
    life.live_until(life.day_after_weeks(HISTORY_WEEKS), &mut OwnersRule::default());
    life
}

/// What the year after that costs.
pub fn year(before: &Life, buyer: &mut dyn Buyer) -> Tally {
    let mut life = before.clone();
    life.live_until(life.day_after_weeks(HISTORY_WEEKS + WARM_UP_WEEKS), buyer);
    let start = life.tally();
    life.live_until(life.day_after_weeks(HISTORY_WEEKS + WARM_UP_WEEKS + YEAR_WEEKS), buyer);
    life.tally().since(&start)
}

/// The recipe that orders are held against.
pub fn recipe(habit: Habit, hard: bool) -> Recipe {
    let economy =
        if hard { capful_simulation::Economy::Hard } else { capful_simulation::Economy::Easy };
    Recipe {
        habit,
        economy,
        weeks: HISTORY_WEEKS + WARM_UP_WEEKS + YEAR_WEEKS + 10,
        ..Recipe::default()
    }
}

pub fn sum(tallies: &[Tally]) -> Tally {
    tallies.iter().fold(Tally::default(), |sum, one| sum.plus(one))
}

/// That a plan's order keeps the budget, each supplier's minimum, and what freight is due.
pub fn assert_kept(snapshot: &Snapshot, plan: &Plan) {
    let facts = &snapshot.facts;
    let currency = facts.shop.currency;
    let order = &plan.weekly_order;
    if let Some(budget) = facts.shop.budget {
        assert!(order.total <= budget.to_decimal(currency), "{} of {budget:?}", order.total);
    }
    for own in &order.orders {
        let supplier = facts.suppliers.iter().find(|s| s.id.as_str() == own.supplier).unwrap();
        let goods: Decimal = own.lines.iter().map(|line| line.cost).sum();
        assert_eq!(goods, own.goods);
        assert!(goods >= supplier.minimum_order.to_decimal(currency), "{goods}: {}", own.supplier);
        let free =
            supplier.free_freight_over.is_some_and(|over| goods >= over.to_decimal(currency));
        let due = if free { Decimal::ZERO } else { supplier.freight.to_decimal(currency) };
        assert_eq!(own.freight, due, "{}", own.supplier);
    }
    let all: Decimal = order.orders.iter().map(|own| own.goods + own.freight).sum();
    assert_eq!(all, order.total);
}
