//! What the shop writes down, each habit in its way.

use capful_domain::facts::{Count, Discard, DiscardReason, Method, Mix, Opening, Pour};
use capful_domain::{Amount, ContainerId, Facts, Id, Product, Unit};
use chrono::{DateTime, Days, NaiveDate, Utc};
use rust_decimal::Decimal;

use crate::calendar::{Visit, at};
use crate::chance::{For, Random, happens, normal, stream, uniform};
use crate::id;
use crate::recipe::Habit;
use crate::set_up::{decimal, ratio};
use crate::shelf::ProductShelf;

/// Spread of a look at the bottles.
const EYE_SD: f64 = 0.03;
/// Spread of the scale.
const SCALE_SD: f64 = 0.01;

/// The facts so far, and what decides what goes into them.
#[derive(Debug, Clone)]
pub(crate) struct Books {
    pub facts: Facts,
    habit: Habit,
    seed: u64,
    next_count: Vec<NaiveDate>,
}

/// To the tenth of a base unit, as somebody reads it off.
fn read_off(product: &Product, base: f64) -> Amount {
    let number =
        if product.unit == Unit::Each { base.round() } else { (base * 10.0).round() / 10.0 };
    Amount { number: decimal(number), unit: product.unit }
}

impl Books {
    pub fn new(facts: Facts, habit: Habit, seed: u64, first_day: NaiveDate) -> Self {
        let first = |place: usize| {
            let random = &mut stream(seed, For::Count, place as u64);
            first_day + Days::new(7 + (uniform(random) * 28.0) as u64)
        };
        let next_count = (0..facts.products.len()).map(first).collect();
        Self { facts, habit, seed, next_count }
    }

    /// Whether the pours of a job are measured.
    pub fn measures(&self, job: u64) -> bool {
        let random = &mut stream(self.seed, For::Habit, job);
        match self.habit {
            Habit::AllMeasured => true,
            Habit::HalfMeasured => happens(random, 0.5),
            Habit::SomeOfEverything => happens(random, 0.25),
            _ => false,
        }
    }

    /// What one job took of one product, where it is measured.
    pub fn pour(&mut self, visit: &Visit, product: usize, base: f64, water: u32) {
        let number = self.facts.pours.len();
        let random = &mut stream(self.seed, For::Habit, 1_000_000 + number as u64);
        let own = &self.facts.products[product];
        let weighed = self.habit == Habit::SomeOfEverything && happens(random, 0.3);
        let parts = f64::from(water + 1);
        self.facts.pours.push(Pour {
            id: id(&format!("p{number}")),
            at: at(&self.facts, visit.day, visit.hours().1),
            product: own.id.clone(),
            amount: read_off(own, base * parts),
            job: Some(visit.job.clone()),
            ratio: ratio(water),
            container: None,
            method: Some(if weighed { Method::Weighed } else { Method::Measured }),
        });
    }

    /// A bottle was opened when the last one was empty.
    pub fn opening(&mut self, when: DateTime<Utc>, product: usize, container: &ContainerId) {
        let number = self.facts.openings.len();
        let random = &mut stream(self.seed, For::Habit, 2_000_000 + number as u64);
        let (tells, named) = match self.habit {
            Habit::OpeningsOnly => (true, false),
            Habit::SomeOfEverything => (happens(random, 0.5), happens(random, 0.5)),
            _ => (false, false),
        };
        if tells {
            self.facts.openings.push(Opening {
                id: id(&format!("o{number}")),
                at: when,
                product: self.facts.products[product].id.clone(),
                container: named.then(|| container.clone()),
            });
        }
    }

    /// A bottle was filled with a mix; gives its name.
    pub fn mix(&mut self, when: DateTime<Utc>, product: usize, base: f64, water: u32) -> Id {
        let own = &self.facts.products[product];
        let name = id(&format!("m{}", self.facts.mixes.len()));
        if let Some(ratio) = ratio(water) {
            self.facts.mixes.push(Mix {
                id: name.clone(),
                at: when,
                product: own.id.clone(),
                amount: read_off(own, base * f64::from(water + 1)),
                ratio,
                container: None,
            });
        }
        name
    }

    /// Whether bottles are filled ahead and that is written down.
    pub fn mixes_ahead(&self) -> bool {
        self.habit == Habit::SomeOfEverything
    }

    /// Something was thrown away: so much of it, or the whole container.
    pub fn discard(
        &mut self,
        when: DateTime<Utc>,
        product: usize,
        container: Option<ContainerId>,
        base: Option<f64>,
        reason: DiscardReason,
    ) {
        let own = &self.facts.products[product];
        self.facts.discards.push(Discard {
            id: id(&format!("d{}", self.facts.discards.len())),
            at: when,
            product: own.id.clone(),
            amount: base.map(|base| read_off(own, base)),
            container,
            reason: Some(reason),
        });
    }

    /// The counts of one evening.
    pub fn counts(&mut self, day: NaiveDate, last_of_week: bool, shelves: &[ProductShelf]) {
        for (place, shelf) in shelves.iter().enumerate() {
            let due = match self.habit {
                Habit::CountsWeekly => last_of_week,
                Habit::CountsNowAndThen | Habit::SomeOfEverything => self.next_count[place] <= day,
                _ => false,
            };
            if due {
                self.count(day, place, shelf);
            }
        }
    }

    /// A job found the last of a product: whoever measures its jobs, or counts, writes that down.
    pub fn ran_out(&mut self, day: NaiveDate, hours: f64, place: usize, measures: bool) {
        let counts = matches!(
            self.habit,
            Habit::CountsWeekly | Habit::CountsNowAndThen | Habit::SomeOfEverything
        );
        if !(counts || measures) {
            return;
        }
        let own = &self.facts.products[place];
        self.facts.counts.push(Count {
            id: id(&format!("c{}", self.facts.counts.len())),
            at: at(&self.facts, day, hours),
            product: own.id.clone(),
            amount: Some(read_off(own, 0.0)),
            gross_g: None,
            container: None,
            sealed: Some(0),
            sd_share: None,
        });
    }

    /// Counts one product.
    pub fn count(&mut self, day: NaiveDate, place: usize, shelf: &ProductShelf) {
        let number = self.facts.counts.len();
        let random = &mut stream(self.seed, For::Count, 1_000_000 + number as u64);
        self.next_count[place] = day + Days::new(14 + (uniform(random) * 29.0) as u64);
        let own = &self.facts.products[place];
        let mut count = Count {
            id: id(&format!("c{number}")),
            at: at(&self.facts, day, 20.0),
            product: own.id.clone(),
            amount: None,
            gross_g: None,
            container: None,
            sealed: None,
            sd_share: None,
        };
        look(&mut count, own, shelf, self.habit, random);
        self.facts.counts.push(count);
    }
}

/// What somebody sees of a product's bottles, a little wrong.
fn look(
    count: &mut Count,
    product: &Product,
    shelf: &ProductShelf,
    habit: Habit,
    random: &mut Random,
) {
    let exact = product.unit == Unit::Each;
    let style = uniform(random);
    let wrong = |sd: f64, random: &mut Random| {
        if exact { 1.0 } else { normal(random, 1.0, sd).max(0.5) }
    };
    let open: f64 = shelf.bottles.iter().filter(|b| b.open).map(|b| b.left).sum();
    let sealed = shelf.bottles.iter().filter(|b| !b.open).count();
    let opened: Vec<f64> = shelf.bottles.iter().filter(|b| b.open).map(|b| b.left).collect();
    let mixed = shelf.bottles.iter().any(|b| b.mix);
    count.sd_share = exact.then_some(Decimal::ZERO);
    match (habit, &opened[..]) {
        (Habit::SomeOfEverything, [left]) if style < 0.25 && !exact && !mixed => {
            let float =
                |number: Option<Decimal>| number.and_then(|n| f64::try_from(n).ok()).unwrap_or(1.0);
            let grams = left * float(product.density_g_ml) * wrong(SCALE_SD, random);
            count.gross_g = Some(decimal((grams + float(product.tare_g)).round()));
            count.sealed = u32::try_from(sealed).ok();
            count.sd_share = Some(Decimal::new(1, 2));
        }
        _ if style < 0.6 => {
            count.amount = Some(read_off(product, open * wrong(EYE_SD, random)));
            count.sealed = u32::try_from(sealed).ok();
        }
        _ => count.amount = Some(read_off(product, shelf.total() * wrong(EYE_SD, random))),
    }
}
