//! The shelf walked forward: one product's containers through one future.
//!
//! First expired, first out; opening starts the open life; a use-by empties a container; a job
//! that finds too little stalls, having taken what there was.

use capful_domain::Ratio;

use crate::simulate::scenarios::Draw;

/// No use-by.
pub(crate) const NEVER: i32 = i32::MAX;
/// Less than this share of what a job takes is not missed.
const NOT_MISSED: f64 = 1e-9;
/// More sealed containers than this that one job empties are taken at once, and not one by one.
const MANY: u32 = 64;

/// Alike containers of one product: the same lot, all sealed, or one open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Group {
    /// How many.
    pub count: u32,
    /// What is left in each.
    pub left: f64,
    pub open: bool,
    /// Last day (ahead of today) that it is good while sealed.
    pub sealed_until: i32,
    /// Last day that it is good as it is.
    pub until: i32,
    /// The ratio, where it is a mix.
    pub mix: Option<Ratio>,
    /// Place of the container on the shelf today, as long as it stands as it does today: what goes
    /// off of a sealed one after it was opened is not its own doing.
    pub origin: u32,
}

impl Group {
    /// Takes the containers that a job empties, where they are very many, all but one; gives what
    /// was in them. However much a job takes, it is not a walk of its own.
    fn take_whole(&mut self, missing: f64) -> f64 {
        let whole = (missing / self.left).floor().min(f64::from(self.count - 1)) as u32;
        if whole <= MANY {
            return 0.0;
        }
        self.count -= whole;
        (self.left * f64::from(whole)).min(missing)
    }
}

/// A container that is not on the shelf today, or does not stand as it does today.
pub(crate) const NOT_HERE_YET: u32 = u32::MAX;

/// Containers that arrive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Arrival {
    /// Days ahead.
    pub day: i32,
    pub count: u32,
    pub size: f64,
    /// Last day that they are good while sealed.
    pub until: i32,
}

/// What a job lacked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shortage {
    pub day: i32,
    pub booked: u32,
    pub missing: f64,
    pub stall_cost: f64,
}

/// How one product's shelf went through one future.
#[derive(Debug, Clone, Default)]
pub(crate) struct Walk {
    /// Jobs that lacked some, in the order of time.
    pub shortages: Vec<Shortage>,
    /// What went off.
    pub wasted: f64,
    /// What went off of each container on the shelf today.
    pub wasted_of: Vec<f64>,
    /// Stock over time, quantity × days.
    pub stock_days: f64,
    /// What is left at the end: until when it is good, how much, and of which container.
    pub left: Vec<(i32, f64, u32)>,
    groups: Vec<Group>,
}

/// What does not change from future to future.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rules<'a> {
    pub open_days: Option<i32>,
    pub days: i32,
    /// Ratio of each pair.
    pub ratios: &'a [Ratio],
    /// What a full container holds.
    pub container_size: f64,
    /// What is on the shelf beyond the books, negative where it is less.
    pub books_off: f64,
}

impl Walk {
    /// Walks `shelf` through `takings`; `arrivals` are in the order of time.
    pub fn run(
        &mut self,
        rules: &Rules<'_>,
        shelf: &[Group],
        arrivals: &[Arrival],
        draws: &[Draw],
    ) {
        self.run_seen(rules, shelf, arrivals, draws, |_, _| {});
    }

    /// The same, with a look at the shelf just before each of `takings`, by its place.
    pub fn run_seen(
        &mut self,
        rules: &Rules<'_>,
        shelf: &[Group],
        arrivals: &[Arrival],
        draws: &[Draw],
        mut look: impl FnMut(&Self, usize),
    ) {
        self.shortages.clear();
        self.left.clear();
        self.wasted_of.clear();
        self.wasted_of.resize(shelf.len(), 0.0);
        (self.wasted, self.stock_days) = (0.0, 0.0);
        self.groups.clear();
        self.groups.extend_from_slice(shelf);
        self.mistake(rules.books_off, rules.container_size);
        let mut coming = arrivals.iter().peekable();
        let mut now = 0;
        let mut soonest = self.soonest_end();
        for (place, draw) in draws.iter().enumerate().take_while(|(_, t)| t.day < rules.days) {
            while let Some(arrival) = coming.next_if(|a| a.day <= draw.day) {
                self.pass(&mut now, arrival.day);
                self.arrive(arrival);
                soonest = soonest.min(arrival.until);
            }
            if soonest < draw.day {
                self.expire(draw.day, &mut now);
                soonest = self.soonest_end();
            }
            self.pass(&mut now, draw.day);
            look(self, place);
            soonest = soonest.min(self.take(rules, draw));
        }
        for arrival in coming.take_while(|a| a.day < rules.days) {
            self.pass(&mut now, arrival.day);
            self.arrive(arrival);
        }
        self.expire(rules.days, &mut now);
        self.pass(&mut now, rules.days);
        let left = self.groups.iter().map(|g| (g.until, g.left * f64::from(g.count), g.origin));
        self.left.extend(left);
    }

    /// Lays what the books are off by over the containers in the order they are poured; what an
    /// open one has no room for is one more like it.
    fn mistake(&mut self, mut off: f64, size: f64) {
        while off < 0.0 {
            let Some(place) = self.next_to_pour(Ratio::NEAT) else { return };
            let group = &mut self.groups[place];
            let taken = (-off).min(group.left * f64::from(group.count));
            group.left -= taken / f64::from(group.count);
            off += taken;
            if group.left <= 0.0 {
                self.groups.remove(place);
            }
        }
        let Some(place) = self.next_to_pour(Ratio::NEAT).filter(|_| off > 0.0) else { return };
        let group = &mut self.groups[place];
        if group.open {
            let room = (size - group.left).clamp(0.0, off);
            group.left += room;
            off -= room;
        }
        if off > 0.0 {
            let more = Group { count: 1, left: off, origin: NOT_HERE_YET, ..self.groups[place] };
            self.groups.push(more);
        }
    }

    /// What stands on the shelf in containers of which `of` is true.
    pub fn level(&self, of: impl Fn(&Group) -> bool) -> f64 {
        let groups = self.groups.iter().filter(|group| of(group));
        groups.map(|group| group.left * f64::from(group.count)).sum()
    }

    /// Until which day it lasted: that of the first job that lacked some, or as far as it was
    /// walked.
    pub fn lasts_days(&self, rules: &Rules<'_>) -> i32 {
        self.shortages.first().map_or(rules.days, |shortage| shortage.day)
    }

    fn pass(&mut self, now: &mut i32, day: i32) {
        if day > *now {
            let level = self.level(|_| true);
            self.stock_days += level * f64::from(day - *now);
            *now = day;
        }
    }

    fn arrive(&mut self, arrival: &Arrival) {
        self.groups.push(Group {
            count: arrival.count,
            left: arrival.size,
            open: false,
            sealed_until: arrival.until,
            until: arrival.until,
            mix: None,
            origin: NOT_HERE_YET,
        });
    }

    fn soonest_end(&self) -> i32 {
        self.groups.iter().map(|g| g.until).min().unwrap_or(NEVER)
    }

    /// Throws away what is past its last day before `day`, each on its day.
    fn expire(&mut self, day: i32, now: &mut i32) {
        while let Some(place) = self.first_past(day) {
            let group = self.groups[place];
            self.pass(now, group.until + 1);
            let gone = self.groups.remove(place);
            let quantity = gone.left * f64::from(gone.count);
            self.wasted += quantity;
            if let Some(own) = self.wasted_of.get_mut(gone.origin as usize) {
                *own += quantity;
            }
        }
    }

    fn first_past(&self, day: i32) -> Option<usize> {
        let past = self.groups.iter().enumerate().filter(|(_, g)| g.until < day);
        past.min_by_key(|(place, g)| (g.until, *place)).map(|(place, _)| place)
    }

    /// Takes what a job takes; gives the soonest last day of what it was poured from.
    fn take(&mut self, rules: &Rules<'_>, draw: &Draw) -> i32 {
        let mut missing = draw.quantity;
        let mut soonest = NEVER;
        let ratio = rules.ratios[draw.pair as usize];
        while missing > draw.quantity * NOT_MISSED {
            let Some(place) = self.next_to_pour(ratio) else {
                self.shortages.push(Shortage {
                    day: draw.day,
                    booked: draw.booked,
                    missing,
                    stall_cost: draw.stall_cost,
                });
                return soonest;
            };
            let place = if self.groups[place].open {
                place
            } else {
                missing -= self.groups[place].take_whole(missing);
                self.open(place, rules.open_days, draw.day)
            };
            let group = &mut self.groups[place];
            soonest = soonest.min(group.until);
            let taken = missing.min(group.left);
            group.left -= taken;
            missing -= taken;
            if group.left <= draw.quantity * NOT_MISSED {
                self.groups.remove(place);
            }
        }
        soonest
    }

    /// Open before sealed, then the earlier use-by, then the one that came first.
    fn next_to_pour(&self, ratio: Ratio) -> Option<usize> {
        let serving = self.groups.iter().enumerate();
        let serving = serving.filter(|(_, g)| g.mix.is_none_or(|own| own == ratio));
        serving.min_by_key(|(place, g)| (!g.open, g.until, *place)).map(|(place, _)| place)
    }

    fn open(&mut self, place: usize, open_days: Option<i32>, day: i32) -> usize {
        let life = open_days.map_or(NEVER, |days| day.saturating_add(days));
        let sealed = &mut self.groups[place];
        let opened =
            Group { count: 1, open: true, until: sealed.sealed_until.min(life), ..*sealed };
        if sealed.count > 1 {
            sealed.count -= 1;
            self.groups.push(opened);
            self.groups.len() - 1
        } else {
            *sealed = opened;
            place
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEAT: [Ratio; 1] = [Ratio::NEAT];

    fn sealed(count: u32, left: f64, until: i32) -> Group {
        Group { count, left, open: false, sealed_until: until, until, mix: None, origin: 0 }
    }

    fn take(day: i32, quantity: f64) -> Draw {
        Draw { day, booked: 0, pair: 0, quantity, stall_cost: 150.0 }
    }

    #[test]
    fn opening_starts_the_open_life_and_the_use_by_empties() {
        let rules = Rules {
            open_days: Some(14),
            days: 60,
            ratios: &NEAT,
            container_size: 100.0,
            books_off: 0.0,
        };
        let mut walk = Walk::default();
        // 50 mL opened on day 2 is good up to day 16; the job on day 20 opens the second.
        walk.run(&rules, &[sealed(2, 50.0, NEVER)], &[], &[take(2, 20.0), take(20, 20.0)]);
        assert!(walk.shortages.is_empty());
        // 30 mL of the first on day 17, 30 mL of the second on day 35.
        assert!((walk.wasted - 60.0).abs() < 1e-9);
        let days = 100.0 * 2.0 + 80.0 * 15.0 + 50.0 * 3.0 + 30.0 * 15.0;
        assert!((walk.stock_days - days).abs() < 1e-9, "{}", walk.stock_days);
    }

    #[test]
    fn a_job_that_empties_millions_takes_them_at_once() {
        let rules = Rules {
            open_days: Some(14),
            days: 30,
            ratios: &NEAT,
            container_size: 0.5,
            books_off: 0.0,
        };
        let mut walk = Walk::default();
        let shelf = [sealed(4_000_000_000, 0.5, NEVER)];
        walk.run(&rules, &shelf, &[], &[take(1, 1_999_999_900.25), take(1, 1e20)]);
        // Nothing that counts beside such a job is left for the second one.
        let missing: Vec<f64> = walk.shortages.iter().map(|shortage| shortage.missing).collect();
        assert_eq!(missing, [1e20]);
        walk.run(&rules, &shelf, &[], &[take(1, 1_999_999_900.25)]);
        // To a thousand-millionth of what it takes.
        assert!((walk.level(|_| true) - 99.75).abs() < 2.0, "{}", walk.level(|_| true));
    }

    #[test]
    fn a_job_that_finds_too_little_takes_it_and_stalls() {
        let rules = Rules {
            open_days: None,
            days: 30,
            ratios: &NEAT,
            container_size: 100.0,
            books_off: 0.0,
        };
        let mut walk = Walk::default();
        let order = Arrival { day: 5, count: 1, size: 100.0, until: NEVER };
        walk.run(&rules, &[sealed(1, 10.0, NEVER)], &[order], &[take(3, 25.0), take(5, 25.0)]);
        assert_eq!(walk.shortages.len(), 1);
        assert_eq!((walk.shortages[0].day, walk.shortages[0].missing), (3, 15.0));
        assert_eq!(walk.left, vec![(NEVER, 75.0, NOT_HERE_YET)]);
    }
}
