//! The shelf of one product, as plainly as it can be said: rows in the order of time, each of which
//! takes from bottles or puts some there.
//!
//! Quantities are in thousandths of a mL. Rows that need more than a sentence (a count of a whole
//! product, an opening that names no bottle) have no place here: products of which such rows are
//! told are held to what must be true of any books.

use capful_domain::ContainerState;
use capful_domain::facts::{Count, Discard, DiscardReason, Method, Mix, Opening, Pour, Receipt};
use chrono::{DateTime, Days, NaiveDate, Utc};

/// What the model knows of a product.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    pub size: i64,
    pub shelf_days: Option<u32>,
    pub open_days: Option<u32>,
    pub mix_days: Option<u32>,
}

/// One bottle.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottle {
    pub name: String,
    pub size: i64,
    pub left: i64,
    pub came: DateTime<Utc>,
    /// When, and whether somebody said so.
    pub opened: Option<(DateTime<Utc>, bool)>,
    pub is_discarded: bool,
    /// Parts of water, of a mix.
    pub water: Option<i64>,
    /// The last day it is good while it is sealed.
    pub good_until: Option<NaiveDate>,
    /// Whether anything was ever in it.
    pub was_there: bool,
    /// Whether a row may name it: not one that was only found missing.
    pub has_a_name: bool,
}

/// The day of a moment in the shop.
pub fn day(at: DateTime<Utc>) -> NaiveDate {
    at.with_timezone(&chrono_tz::America::Halifax).date_naive()
}

fn after(day: NaiveDate, days: Option<u32>) -> Option<NaiveDate> {
    days.and_then(|days| day.checked_add_days(Days::new(days.into())))
}

/// The product in so much of a mix.
pub fn neat(mix: i64, water: i64) -> i64 {
    mix / (1 + water)
}

/// Thousandths of a mL.
pub fn ul(amount: capful_domain::Amount) -> i64 {
    use rust_decimal::prelude::ToPrimitive;
    amount.number.to_i64().unwrap() * 1000
}

impl Bottle {
    pub fn state(&self) -> ContainerState {
        match self.opened {
            _ if self.is_discarded => ContainerState::Discarded,
            _ if self.left <= 0 => ContainerState::Empty,
            None if self.water.is_none() => ContainerState::Sealed,
            _ => ContainerState::Open,
        }
    }

    fn is_live(&self) -> bool {
        !self.is_discarded && self.left > 0
    }

    /// The last day it is good.
    fn use_by(&self, kind: &Kind) -> Option<NaiveDate> {
        let opened = self.opened.filter(|_| self.water.is_none());
        let once_opened = opened.and_then(|(at, _)| after(day(at), kind.open_days));
        [self.good_until, once_opened].into_iter().flatten().min()
    }

    fn is_past(&self, kind: &Kind, on: NaiveDate) -> bool {
        self.use_by(kind).is_some_and(|last| last < on)
    }
}

/// A row of the shelf.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    Receipt(Receipt),
    Discard(Discard),
    Opening(Opening),
    Mix(Mix),
    Pour(Pour),
    Count(Count),
}

/// Bottles in the order they came.
#[derive(Debug, Clone)]
pub struct Shelf {
    kind: Kind,
    pub bottles: Vec<Bottle>,
}

/// Something taken: how much, of which mix, from which bottle.
struct Take<'t> {
    at: DateTime<Utc>,
    quantity: i64,
    water: i64,
    place: Option<usize>,
    is_mixing: bool,
    is_expected: bool,
    /// What a bottle is called that is found for it.
    found: &'t str,
}

impl Shelf {
    /// What rows come to that are in the order of time.
    pub fn of<'e>(kind: &Kind, events: impl Iterator<Item = &'e Event>) -> Self {
        let mut shelf = Self { kind: kind.clone(), bottles: Vec::new() };
        for event in events {
            match event {
                Event::Receipt(receipt) => shelf.receive(receipt),
                Event::Discard(discard) => shelf.discard(discard),
                Event::Opening(opening) => shelf.open(opening),
                Event::Mix(mix) => shelf.mix(mix),
                Event::Pour(pour) => shelf.pour(pour),
                Event::Count(count) => shelf.count(count),
            }
        }
        shelf
    }

    /// The bottle that a row names.
    pub fn named(&self, name: Option<&capful_domain::ContainerId>) -> Option<usize> {
        let name = name?.as_str();
        self.bottles.iter().position(|bottle| bottle.name == name)
    }

    fn add(&mut self, name: String, at: DateTime<Utc>) -> usize {
        self.bottles.push(Bottle {
            name,
            size: self.kind.size,
            left: 0,
            came: at,
            opened: None,
            is_discarded: false,
            water: None,
            good_until: after(day(at), self.kind.shelf_days),
            was_there: false,
            has_a_name: true,
        });
        self.bottles.len() - 1
    }

    fn holds(&mut self, place: usize, left: i64) {
        let bottle = &mut self.bottles[place];
        bottle.was_there |= left > bottle.left;
        bottle.left = left;
    }

    fn receive(&mut self, receipt: &Receipt) {
        for number in 1..=receipt.containers {
            let place = self.add(format!("{}/{number}", receipt.id), receipt.at);
            self.holds(place, self.kind.size);
            let bottle = &mut self.bottles[place];
            bottle.good_until = receipt.best_before.or(bottle.good_until);
        }
    }

    /// Those with something in them, first expired first out: good before past, open before sealed,
    /// the nearest end first, a mix before what was bought, then as they came.
    fn in_turn(&self, on: NaiveDate) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.bottles.len()).collect();
        places.retain(|place| self.bottles[*place].is_live());
        places.sort_by_key(|place| {
            let own = &self.bottles[*place];
            let is_sealed = own.state() == ContainerState::Sealed;
            let end = own.use_by(&self.kind).unwrap_or(NaiveDate::MAX);
            (own.is_past(&self.kind, on), is_sealed, end, own.water.is_none(), own.came)
        });
        places
    }

    fn take_from(&mut self, place: usize, quantity: i64, take: &Take<'_>) {
        let bottle = &mut self.bottles[place];
        if bottle.opened.is_none() && bottle.water.is_none() && quantity > 0 {
            bottle.opened = Some((take.at, take.place.is_some()));
        }
        bottle.left -= quantity;
    }

    /// Takes from the bottle that is named, else in turn. More than there is is taken as it
    /// happened: it was there, and is not any more. Gives the bottle that it came from last.
    fn take(&mut self, take: &Take<'_>) -> Option<usize> {
        let mut places = self.in_turn(day(take.at));
        places.retain(|place| {
            let water = self.bottles[*place].water;
            water.is_none_or(|own| !take.is_mixing && own == take.water)
        });
        if let Some(place) = take.place {
            places = vec![place];
        }
        let mut last = places.first().copied();
        let mut missing = take.quantity;
        for place in places {
            let taken = missing.min(self.bottles[place].left);
            if taken > 0 {
                self.take_from(place, taken, take);
                last = Some(place);
            }
            missing -= taken;
            if missing == 0 {
                return last;
            }
        }
        if missing == 0 {
            return last;
        }
        let place = last.unwrap_or_else(|| self.used_up_or_found(take));
        self.holds(place, self.bottles[place].left + missing);
        self.take_from(place, missing, take);
        Some(place)
    }

    /// Where nothing is left: the last that was used up; what is merely expected may have come from
    /// one that is gone; else one that nobody knew of.
    fn used_up_or_found(&mut self, take: &Take<'_>) -> usize {
        let bought = |bottle: &Bottle| bottle.water.is_none();
        let used_up = |bottle: &Bottle| {
            bought(bottle) && bottle.was_there && bottle.state() == ContainerState::Empty
        };
        let gone = |bottle: &Bottle| take.is_expected && bought(bottle) && bottle.opened.is_some();
        let last = self.bottles.iter().rposition(used_up);
        let last = last.or_else(|| self.bottles.iter().rposition(gone));
        last.unwrap_or_else(|| {
            let place = self.add(format!("{}/1", take.found), take.at);
            self.bottles[place].has_a_name = take.is_mixing;
            place
        })
    }

    fn pour(&mut self, pour: &Pour) {
        let place = self.named(pour.container.as_ref());
        let own = place.and_then(|place| self.bottles[place].water);
        let water = pour.ratio.map(water_of).or(own).unwrap_or(0);
        self.take(&Take {
            at: pour.at,
            quantity: neat(ul(pour.amount), water),
            water,
            place,
            is_mixing: false,
            is_expected: pour.method == Some(Method::Expected) && pour.job.is_some(),
            found: pour.id.as_str(),
        });
    }

    fn discard(&mut self, discard: &Discard) {
        let place = self.named(discard.container.as_ref());
        let Some(amount) = discard.amount else {
            if let Some(place) = place.or_else(|| self.next_to_discard(discard)) {
                self.bottles[place].left = 0;
                self.bottles[place].is_discarded = true;
            }
            return;
        };
        let water = place.and_then(|place| self.bottles[place].water).unwrap_or(0);
        self.take(&Take {
            at: discard.at,
            quantity: neat(ul(amount), water),
            water: 0,
            place,
            is_mixing: false,
            is_expected: false,
            found: discard.id.as_str(),
        });
    }

    /// What was sent back is the sealed one that lasts longest, what expired the one whose end is
    /// nearest, else it is the one in use.
    fn next_to_discard(&self, discard: &Discard) -> Option<usize> {
        let live = self.in_turn(day(discard.at));
        let end = |place: &usize| self.bottles[*place].use_by(&self.kind).unwrap_or(NaiveDate::MAX);
        match discard.reason {
            Some(DiscardReason::Returned) => {
                let is_sealed =
                    |place: &&usize| self.bottles[**place].state() == ContainerState::Sealed;
                let sealed = live.iter().filter(is_sealed).max_by_key(|place| end(place));
                sealed.or(live.last()).copied()
            }
            Some(DiscardReason::Expired) => live.into_iter().min_by_key(end),
            _ => live.first().copied(),
        }
    }

    fn mix(&mut self, mix: &Mix) {
        let water = water_of(mix.ratio);
        let quantity = neat(ul(mix.amount), water);
        let place = self.named(mix.container.as_ref());
        let found = mix.id.as_str();
        let (at, is_mixing, is_expected) = (mix.at, true, false);
        let take = Take { at, quantity, water: 0, place, is_mixing, is_expected, found };
        let Some(from) = self.take(&take) else { return };
        let ends = [after(day(at), self.kind.mix_days), self.bottles[from].use_by(&self.kind)];
        let place = self.add(mix.id.to_string(), at);
        self.holds(place, quantity);
        let bottle = &mut self.bottles[place];
        (bottle.size, bottle.water) = (quantity, Some(water));
        bottle.good_until = ends.into_iter().flatten().min();
    }

    /// Of a bottle that is named. One that the books took to be open was not, where they may have
    /// been wrong about another; what is open, used up or gone stays as it is.
    fn open(&mut self, opening: &Opening) {
        let place = self.named(opening.container.as_ref());
        let place = place.unwrap_or_else(|| self.add(format!("{}/1", opening.id), opening.at));
        let own = &self.bottles[place];
        let is_guessed = own.water.is_none() && own.opened.is_some_and(|(_, is_said)| !is_said);
        let another = |(other, bottle): (usize, &Bottle)| {
            other != place && bottle.water.is_none() && bottle.opened.is_some()
        };
        let can_be = match own.state() {
            ContainerState::Sealed => true,
            ContainerState::Open => {
                let is_past = own.is_past(&self.kind, day(opening.at));
                is_guessed && !is_past && self.bottles.iter().enumerate().any(another)
            }
            // Found by this very row.
            ContainerState::Empty => own.name == format!("{}/1", opening.id),
            ContainerState::Discarded => false,
        };
        if can_be {
            self.holds(place, self.bottles[place].size);
            self.bottles[place].opened = Some((opening.at, true));
        }
    }

    /// Of a bottle that is named: it holds what was seen.
    fn count(&mut self, count: &Count) {
        let place = self.named(count.container.as_ref());
        let place = place.unwrap_or_else(|| self.add(format!("{}/1", count.id), count.at));
        let bottle = &mut self.bottles[place];
        let seen = neat(count.amount.map(ul).unwrap_or_default(), bottle.water.unwrap_or(0));
        if seen > 0 {
            bottle.is_discarded = false;
        }
        if bottle.opened.is_none() && bottle.water.is_none() && seen < bottle.size {
            bottle.opened = Some((count.at, true));
        }
        self.holds(place, seen);
    }
}

/// Parts of water.
pub fn water_of(ratio: capful_domain::Ratio) -> i64 {
    use rust_decimal::prelude::ToPrimitive;
    ratio.water().to_i64().unwrap()
}
