//! The real shelf: what truly stands on it, whatever the books say.

use capful_domain::ContainerId;
use chrono::{Days, NaiveDate};

/// One real container of one product.
#[derive(Debug, Clone)]
pub(crate) struct Bottle {
    pub id: ContainerId,
    /// What is in it, base units of product as bought.
    pub left: f64,
    pub open: bool,
    /// Whether it was filled in the shop.
    pub mix: bool,
    /// The last day that it is good.
    pub until: Option<NaiveDate>,
    /// What a base unit of it cost.
    pub unit_cost: f64,
}

impl Bottle {
    /// Open before sealed, then the earlier use-by.
    fn rank(&self) -> (bool, NaiveDate) {
        (!self.open, self.until.unwrap_or(NaiveDate::MAX))
    }
}

/// What a bottle gave.
pub(crate) struct Given {
    pub id: ContainerId,
    pub opened: bool,
}

/// All containers of one product.
#[derive(Debug, Clone, Default)]
pub(crate) struct ProductShelf {
    pub bottles: Vec<Bottle>,
    pub open_days: Option<u32>,
}

impl ProductShelf {
    pub fn total(&self) -> f64 {
        self.bottles.iter().map(|b| b.left).sum()
    }

    pub fn value(&self) -> f64 {
        self.bottles.iter().map(|b| b.left * b.unit_cost).sum()
    }

    fn next(&self, mix: bool) -> Option<usize> {
        let own = self.bottles.iter().enumerate().filter(|(_, b)| b.mix == mix);
        own.min_by_key(|(place, b)| (b.rank(), *place)).map(|(place, _)| place)
    }

    /// What can be taken of it neat, or out of what was mixed.
    pub fn available(&self, mix: bool) -> f64 {
        self.bottles.iter().filter(|b| b.mix == mix).map(|b| b.left).sum()
    }

    /// Takes so much, or what there is; tells the bottles it came out of and what is missing.
    pub fn take(&mut self, amount: f64, mix: bool, day: NaiveDate) -> (Vec<Given>, f64) {
        let mut given = Vec::new();
        let mut missing = amount;
        while missing > 1e-9 {
            let Some(place) = self.next(mix) else { break };
            let bottle = &mut self.bottles[place];
            let opened = !bottle.open;
            if opened {
                bottle.open = true;
                let life = self.open_days.map(|days| day + Days::new(days.into()));
                bottle.until = bottle.until.into_iter().chain(life).min();
            }
            given.push(Given { id: bottle.id.clone(), opened });
            let taken = missing.min(bottle.left);
            bottle.left -= taken;
            missing -= taken;
            if bottle.left <= 1e-9 {
                self.bottles.remove(place);
            }
        }
        (given, missing.max(0.0))
    }

    /// Takes what is past its last day off the shelf.
    pub fn past(&mut self, day: NaiveDate) -> Vec<Bottle> {
        let is_past = |b: &Bottle| b.until.is_some_and(|until| until < day);
        let (past, good) = std::mem::take(&mut self.bottles).into_iter().partition(is_past);
        self.bottles = good;
        past
    }
}
