//! A whole container of the busiest product runs out, and nobody says so.

use capful_domain::Snapshot;
use capful_simulation::{Habit, Life, OwnersRule, Recipe};

use super::usage::Said;

const SPILL_WEEK: u32 = 40;
const WEEKS: u32 = SPILL_WEEK + 3;

/// What a spill did to what is learned, beside the same shop without it.
pub struct Spill {
    pub product: String,
    /// The shop three weeks after.
    pub snapshot: Snapshot,
    /// By how much what the product's jobs take together moved, as a share.
    pub moved: f64,
    /// The same of the kind of job that moved most.
    pub most_moved: f64,
}

/// Of a shop that counts every week.
pub fn of_shop(seed: u64) -> Spill {
    let calm =
        Recipe { habit: Habit::CountsWeekly, mishaps: false, weeks: 60, ..Recipe::default() };
    let run = |recipe: &Recipe| {
        let mut life = Life::new(recipe, seed);
        life.live_until(life.day_after_weeks(WEEKS), &mut OwnersRule::default());
        life
    };
    let (dry, spilled) = (run(&calm), run(&Recipe { spill_week: Some(SPILL_WEEK), ..calm }));
    let snapshot = super::snapshot(&spilled, WEEKS);
    let product = spilled.spilled().expect("something was spilled");
    let before = Said::learned(&dry, &super::snapshot(&dry, WEEKS));
    let after = Said::learned(&spilled, &snapshot);
    Spill {
        product: spilled.facts().products[product].id.to_string(),
        moved: after.moved(&before, &spilled, product),
        most_moved: after.most_moved(&before, &spilled, product),
        snapshot,
    }
}
