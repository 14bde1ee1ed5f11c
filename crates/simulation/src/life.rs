//! One day after the other: the order, deliveries, jobs on a real shelf, counts.

use capful_domain::facts::{DiscardReason, Order, OrderLine, Receipt};
use capful_domain::{ContainerId, Facts, Id, Money, Shop, Unit};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};

use crate::books::Books;
use crate::buyer::{Buyer, Buys, Seen};
use crate::calendar::{Visit, at, visits};
use crate::chance::{For, between, happens, normal, pick, stream, uniform};
use crate::id;
use crate::recipe::{Habit, Recipe};
use crate::set_up::SetUp;
use crate::shelf::{Bottle, ProductShelf};
use crate::tally::Tally;
use crate::truth::Truth;

/// Weeks that the shelf is filled for on the first day.
const FIRST_WEEKS: f64 = 4.0;
/// Jobs that a bottle serves at least whose loss is to be seen.
const SPILLED_JOBS: f64 = 8.0;
/// What is filled ahead at once, base units of the mix.
const MIXED_AT_ONCE: f64 = 1000.0;

/// What one job took of one product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Took {
    /// Place of the visit.
    pub visit: usize,
    /// Place of the product.
    pub product: usize,
    /// The day.
    pub day: NaiveDate,
    /// Base units of product as bought, whether the shelf had it or not.
    pub amount: f64,
    /// What the shelf lacked of it, and no substitute made up for.
    pub missing: f64,
}

/// A container that was thrown away past its use-by.
#[derive(Debug, Clone, PartialEq)]
pub struct Thrown {
    /// The morning after its last good day, or the first on which the shop was there.
    pub day: NaiveDate,
    /// Place of the product.
    pub product: usize,
    /// Which.
    pub container: ContainerId,
    /// Whether it had been opened.
    pub opened: bool,
    /// What was in it, base units.
    pub quantity: f64,
    /// What that had cost.
    pub cost: f64,
}

/// A line of an order on its way.
#[derive(Debug, Clone)]
struct Coming {
    order: Id,
    supplier: Id,
    product: usize,
    containers: u32,
    unit_cost: Money,
    day: NaiveDate,
}

/// A shop, lived until some day.
#[derive(Debug, Clone)]
pub struct Life {
    recipe: Recipe,
    seed: u64,
    truth: Truth,
    mixed_ahead: Vec<bool>,
    visits: Vec<Visit>,
    next_visit: usize,
    books: Books,
    shelves: Vec<ProductShelf>,
    coming: Vec<Coming>,
    today: NaiveDate,
    took: Vec<Took>,
    thrown: Vec<Thrown>,
    spilled: Option<usize>,
    weekly: Vec<Vec<f64>>,
    tally: Tally,
    orders: bool,
}

impl Life {
    /// The shop on its first morning, with a filled shelf and an empty history.
    #[must_use]
    pub fn new(recipe: &Recipe, seed: u64) -> Self {
        let set_up = SetUp::draw(recipe, seed);
        let visits = visits(recipe, &set_up, seed);
        let SetUp { mut facts, truth, mixed_ahead, .. } = set_up;
        facts.jobs = visits.iter().map(|visit| visit.job(&facts)).collect();
        let shelf = |place: usize| ProductShelf {
            open_days: facts.products[place].open_days,
            ..ProductShelf::default()
        };
        let shelves = (0..facts.products.len()).map(shelf).collect();
        let mut life = Self {
            recipe: *recipe,
            seed,
            truth,
            mixed_ahead,
            visits,
            next_visit: 0,
            books: Books::new(facts, recipe.habit, seed, recipe.first_day),
            shelves,
            coming: Vec::new(),
            today: recipe.first_day,
            took: Vec::new(),
            thrown: Vec::new(),
            spilled: None,
            weekly: Vec::new(),
            tally: Tally::default(),
            orders: true,
        };
        life.fill_shelf();
        // A shop begins by counting what is there.
        life.count_everything();
        life
    }

    /// What is written down. Jobs stand in it with what became of them: a snapshot hides what was
    /// later than its moment.
    #[must_use]
    pub const fn facts(&self) -> &Facts {
        &self.books.facts
    }

    /// What is truly so.
    #[must_use]
    pub const fn truth(&self) -> &Truth {
        &self.truth
    }

    /// Every vehicle that comes, by day.
    #[must_use]
    pub fn visits(&self) -> &[Visit] {
        &self.visits
    }

    /// What every job took so far.
    #[must_use]
    pub fn took(&self) -> &[Took] {
        &self.took
    }

    /// What was thrown away past its use-by so far.
    #[must_use]
    pub fn thrown(&self) -> &[Thrown] {
        &self.thrown
    }

    /// The product of which a container was spilled unseen, if one was.
    #[must_use]
    pub const fn spilled(&self) -> Option<usize> {
        self.spilled
    }

    /// What it has cost so far.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.tally
    }

    /// The day that is lived next.
    #[must_use]
    pub const fn today(&self) -> NaiveDate {
        self.today
    }

    /// Early in the morning of the day that is lived next, before anything happens on it.
    #[must_use]
    pub fn morning(&self) -> DateTime<Utc> {
        at(self.facts(), self.today, 7.0)
    }

    /// The day so many weeks after the first.
    #[must_use]
    pub fn day_after_weeks(&self, weeks: u32) -> NaiveDate {
        self.recipe.first_day + Days::new(7 * u64::from(weeks))
    }

    /// The week of a day, the first being 0.
    #[must_use]
    pub fn week_of(&self, day: NaiveDate) -> u32 {
        u32::try_from((day - self.recipe.first_day).num_days() / 7).unwrap_or(0)
    }

    /// What truly stands on the shelf of each product, base units.
    #[must_use]
    pub fn on_hand(&self) -> Vec<f64> {
        self.shelves.iter().map(ProductShelf::total).collect()
    }

    /// From now on nothing is ordered any more; what is on its way still comes.
    pub const fn stop_ordering(&mut self) {
        self.orders = false;
    }

    /// Counts the whole shelf, whatever the habit, on the evening before the day lived next.
    pub fn count_everything(&mut self) {
        let day = self.today - Days::new(1);
        for (place, shelf) in self.shelves.iter().enumerate() {
            self.books.count(day, place, shelf);
        }
    }

    /// Lives until the morning of `day`.
    pub fn live_until(&mut self, day: NaiveDate, buyer: &mut dyn Buyer) {
        while self.today < day {
            self.live(buyer);
        }
    }

    fn live(&mut self, buyer: &mut dyn Buyer) {
        let day = self.today;
        self.throw_away_past(day);
        if self.orders && day.weekday() == self.facts().shop.order_weekday {
            self.order(day, buyer);
        }
        self.receive(day);
        self.mishap(day);
        while self.visits.get(self.next_visit).is_some_and(|visit| visit.day <= day) {
            self.work(self.next_visit);
            self.next_visit += 1;
        }
        let last_of_week = day.weekday() == chrono::Weekday::Sat;
        self.books.counts(day, last_of_week, &self.shelves);
        let rate = self.facts().shop.holding_rate.try_into().unwrap_or(0.0);
        let value: f64 = self.shelves.iter().map(ProductShelf::value).sum();
        self.tally.holding += rate * value / 365.0;
        self.today = day + Days::new(1);
    }

    // ---- the shelf

    fn fill_shelf(&mut self) {
        let weeks = f64::from(self.recipe.weeks.max(1));
        let mut a_week = vec![0.0; self.shelves.len()];
        for visit in &self.visits {
            for pair in self.truth.pairs.iter().filter(|p| visit.job_types.contains(&p.job_type)) {
                let mean = self.truth.mean(pair, visit.size, visit.condition, 0);
                a_week[pair.product] += mean / weeks;
            }
        }
        let day = self.recipe.first_day - Days::new(1);
        for (product, a_week) in a_week.into_iter().enumerate() {
            let containers = (FIRST_WEEKS * a_week / self.size_of(product)).ceil().max(1.0);
            let product_id = &self.facts().products[product].id;
            let offer = self.facts().offers.iter().find(|o| o.product == *product_id);
            let Some(offer) = offer.cloned() else { continue };
            self.shelve(Coming {
                order: id("first"),
                supplier: offer.supplier,
                product,
                containers: containers as u32,
                unit_cost: offer.price.share(1, offer.pack.into()),
                day,
            });
        }
    }

    fn size_of(&self, product: usize) -> f64 {
        self.facts().products[product].size().ledger_units() as f64 / 1000.0
    }

    fn shelve(&mut self, coming: Coming) {
        let number = self.facts().receipts.len();
        let random = &mut stream(self.seed, For::Delivery, 1_000_000 + number as u64);
        let Coming { order, supplier, product, containers, unit_cost, day } = coming;
        let (name, size) = (id(&format!("r{number}")), self.size_of(product));
        let own = &self.facts().products[product];
        // On some lots a date is printed.
        let life = own.shelf_days.map(|days| f64::from(days) * between(random, 0.7, 1.0));
        let dated = product % 3 == 0;
        let best_before = life.filter(|_| dated).map(|days| day + Days::new(days as u64));
        let until = best_before.or(own.shelf_days.map(|days| day + Days::new(days.into())));
        let lot = format!("L{}", 1000 + (uniform(random) * 9000.0) as u32);
        let receipt = Receipt {
            id: name.clone(),
            at: at(self.facts(), day, 7.5),
            product: own.id.clone(),
            containers,
            unit_cost,
            supplier: Some(supplier),
            lot: Some(lot),
            best_before,
            order: Some(order).filter(|order| order.as_str() != "first"),
            container_size: None,
        };
        self.books.facts.receipts.push(receipt);
        for container in 1..=containers {
            self.shelves[product].bottles.push(Bottle {
                id: ContainerId::of(&name, container),
                left: size,
                open: false,
                mix: false,
                until,
                unit_cost: unit_cost.minor() as f64 / 100.0 / size,
            });
        }
    }

    fn throw_away_past(&mut self, day: NaiveDate) {
        let when = at(self.facts(), day, 6.5);
        for product in 0..self.shelves.len() {
            for bottle in self.shelves[product].past(day) {
                let cost = bottle.left * bottle.unit_cost;
                self.tally.expired += cost;
                self.thrown.push(Thrown {
                    day,
                    product,
                    container: bottle.id.clone(),
                    opened: bottle.open,
                    quantity: bottle.left,
                    cost,
                });
                // Of what is open it is plain which is meant.
                let named = Some(bottle.id).filter(|_| !bottle.open || bottle.mix);
                self.books.discard(when, product, named, None, DiscardReason::Expired);
            }
        }
    }

    /// Something falls over, or a bottle turns out to be no good.
    fn mishap(&mut self, day: NaiveDate) {
        let first = day.weekday() == chrono::Weekday::Wed;
        let random = &mut stream(self.seed, For::Mishap, u64::from(self.week_of(day)));
        let product = (uniform(random) * self.shelves.len() as f64) as usize;
        let when = at(self.facts(), day, 8.0);
        if first && self.recipe.spill_week == Some(self.week_of(day)) {
            self.spill_unseen();
        }
        if !(first && self.recipe.mishaps && happens(random, 0.08)) {
            return;
        }
        let liquid = self.facts().products[product].unit == Unit::Ml;
        let Some(bottle) = self.shelves[product].bottles.iter_mut().find(|b| !b.mix) else {
            return;
        };
        let (name, open) = (bottle.id.clone(), bottle.open);
        if open && liquid {
            let lost = (bottle.left * between(random, 0.1, 0.5)).round();
            bottle.left -= lost;
            self.books.discard(when, product, Some(name), Some(lost), DiscardReason::Spilled);
        } else if !open {
            let reason = pick(random, &[DiscardReason::Damaged, DiscardReason::Returned]);
            self.shelves[product].bottles.retain(|b| b.id != name);
            self.books.discard(when, product, Some(name), None, reason);
        }
    }

    /// A whole bottle of the product that is used most often runs out, and nobody says so; of one
    /// that serves many jobs, as a bottle for two or three is lost among them.
    fn spill_unseen(&mut self) {
        let serves_many = |product: &usize| {
            let own = self.took.iter().filter(|took| took.product == *product);
            let (times, sum) = own.fold((0.0, 0.0), |(n, sum), took| (n + 1.0, sum + took.amount));
            self.size_of(*product) * times > SPILLED_JOBS * sum
        };
        let busiest = (0..self.shelves.len())
            .filter(|p| self.facts().products[*p].unit == Unit::Ml)
            .filter(serves_many)
            .filter(|p| self.shelves[*p].bottles.iter().any(|b| !b.open))
            .max_by_key(|p| self.took.iter().filter(|took| took.product == *p).count());
        let Some(product) = busiest else { return };
        let bottles = &mut self.shelves[product].bottles;
        if let Some(place) = bottles.iter().position(|b| !b.open) {
            bottles.remove(place);
            self.spilled = Some(product);
        }
    }

    // ---- orders

    fn order(&mut self, day: NaiveDate, buyer: &mut dyn Buyer) {
        let mut on_order = vec![0.0; self.shelves.len()];
        for coming in &self.coming {
            on_order[coming.product] += f64::from(coming.containers) * self.size_of(coming.product);
        }
        let on_hand = self.on_hand();
        let seen = Seen {
            facts: self.facts(),
            moment: self.morning(),
            day,
            truth: &self.truth,
            on_hand: &on_hand,
            on_order: &on_order,
            weekly: &self.weekly,
        };
        for buys in buyer.buys(&seen) {
            self.place(day, &buys);
        }
    }

    fn place(&mut self, day: NaiveDate, buys: &Buys) {
        let number = self.facts().orders.len();
        let order = id(&format!("o{number}"));
        let suppliers = &self.facts().suppliers;
        let Some(place) = suppliers.iter().position(|s| s.id == buys.supplier) else { return };
        let supplier = suppliers[place].clone();
        let thing = 10_000 * u64::from(self.week_of(day)) + place as u64;
        let random = &mut stream(self.seed, For::Delivery, thing);
        let number = |n: Option<rust_decimal::Decimal>| n.and_then(|n| f64::try_from(n).ok());
        let lead = number(Some(supplier.lead_days)).unwrap_or(4.0);
        let sd = number(supplier.lead_days_sd).unwrap_or(1.0);
        let late = if happens(random, 0.07) { between(random, 3.0, 9.0) } else { 0.0 };
        let lead = normal(random, lead, sd).max(1.0) + late;
        let arrives = (day + Days::new(lead.round() as u64)).iter_days();
        let shop = self.facts().shop.clone();
        let arrives = arrives.into_iter().find(|d| shop.is_open(*d)).unwrap_or(day);
        let mut goods = Money::ZERO;
        for (product, packs) in &buys.lines {
            let offers = &self.facts().offers;
            let own =
                |o: &&capful_domain::Offer| o.product == *product && o.supplier == supplier.id;
            let Some(offer) = offers.iter().find(own).cloned() else { continue };
            let Some(product) = self.facts().products.iter().position(|p| p.id == *product) else {
                continue;
            };
            goods += offer.price.times(i64::from(*packs));
            self.coming.push(Coming {
                order: order.clone(),
                supplier: supplier.id.clone(),
                product,
                containers: packs * offer.pack,
                unit_cost: offer.price.share(1, offer.pack.into()),
                day: arrives,
            });
            self.books.facts.order_lines.push(OrderLine {
                order: order.clone(),
                product: offer.product.clone(),
                packs: *packs,
                supplier_code: None,
            });
        }
        let placed_at = at(self.facts(), day, 7.25);
        let supplier_id = supplier.id.clone();
        self.books.facts.orders.push(Order {
            id: order,
            placed_at,
            supplier: supplier_id,
            status: None,
        });
        self.tally.freight += supplier.freight_of(goods).minor() as f64 / 100.0;
        self.tally.goods += goods.minor() as f64 / 100.0;
        self.tally.orders += 1.0;
    }

    fn receive(&mut self, day: NaiveDate) {
        let coming = std::mem::take(&mut self.coming);
        let (here, later): (Vec<_>, Vec<_>) = coming.into_iter().partition(|c| c.day <= day);
        self.coming = later;
        for coming in here {
            self.shelve(Coming { day, ..coming });
        }
    }

    // ---- jobs

    fn work(&mut self, place: usize) {
        let visit = self.visits[place].clone();
        let week = self.week_of(visit.day);
        while self.weekly.len() <= week as usize {
            self.weekly.push(vec![0.0; self.shelves.len()]);
        }
        if !visit.came() {
            return;
        }
        let number = place as u64;
        let random = &mut stream(self.seed, For::Job, number);
        let mut uses: Vec<(usize, f64, u32)> = Vec::new();
        for pair in self.truth.pairs.iter().filter(|p| visit.job_types.contains(&p.job_type)) {
            let amount = self.truth.draw(pair, (visit.size, visit.condition), week, random);
            match uses.iter_mut().find(|(product, ..)| *product == pair.product) {
                Some((_, sum, _)) => *sum += amount,
                None => uses.push((pair.product, amount, pair.water)),
            }
        }
        let measures = self.books.measures(number);
        let mut lacked = false;
        for (product, amount, water) in uses {
            self.weekly[week as usize][product] += amount;
            let missing = self.use_up(&visit, product, amount, water);
            let made_up = missing > 0.0 && self.substitute(&visit, product, missing);
            let missing = if made_up { 0.0 } else { missing };
            // A job that ran short is no measure of what such a job takes.
            if measures && missing == 0.0 && !made_up {
                self.books.pour(&visit, product, amount, water);
            }
            if self.shelves[product].total() <= 0.0 && (missing > 0.0 || made_up) {
                self.books.ran_out(visit.day, visit.hours().1, product, measures);
            }
            lacked |= missing > 0.0;
            self.took.push(Took { visit: place, product, day: visit.day, amount, missing });
        }
        self.tally.jobs += 1.0;
        if lacked {
            self.tally.stalled_jobs += 1.0;
            self.tally.stalls += stall_cost(&self.facts().shop, self.facts(), &visit);
        }
    }

    /// Takes it off the shelf; tells what is missing.
    fn use_up(&mut self, visit: &Visit, product: usize, amount: f64, water: u32) -> f64 {
        let when = at(self.facts(), visit.day, visit.hours().0 + 0.6);
        let ahead = water > 0 && self.mixed_ahead[product] && self.books.mixes_ahead();
        if ahead {
            self.mix_enough(visit, product, amount, water);
        }
        let (given, missing) = self.shelves[product].take(amount, ahead, visit.day);
        for one in given.iter().filter(|one| one.opened) {
            self.books.opening(when, product, &one.id);
        }
        missing
    }

    /// Fills bottles until there is enough of the mix, or no concentrate.
    fn mix_enough(&mut self, visit: &Visit, product: usize, amount: f64, water: u32) {
        let when = at(self.facts(), visit.day, visit.hours().0 + 0.3);
        let concentrate = MIXED_AT_ONCE / f64::from(water + 1);
        while self.shelves[product].available(true) < amount {
            let there = self.shelves[product].available(false);
            let wanted = (concentrate.min(there) * 10.0).floor() / 10.0;
            if wanted <= 0.0 {
                return;
            }
            let cost = self.shelves[product].value() / self.shelves[product].total();
            let (given, _) = self.shelves[product].take(wanted, false, visit.day);
            for one in given.iter().filter(|one| one.opened) {
                self.books.opening(when, product, &one.id);
            }
            let name = self.books.mix(when, product, wanted, water);
            let life = self.facts().products[product].mix_days;
            self.shelves[product].bottles.push(Bottle {
                id: ContainerId::of_mix(&name),
                left: wanted,
                open: true,
                mix: true,
                until: life.map(|days| visit.day + Days::new(days.into())),
                unit_cost: cost,
            });
        }
    }

    /// What is short is made up with the first substitute that has enough, and that is written.
    fn substitute(&mut self, visit: &Visit, product: usize, missing: f64) -> bool {
        let facts = self.facts();
        let substitutes = facts.products[product].substitutes.iter();
        let places = substitutes.filter_map(|id| facts.products.iter().position(|p| p.id == *id));
        let serving = places.into_iter().find(|place| self.shelves[*place].total() >= missing);
        let Some(other) = serving else { return false };
        let _ = self.use_up(visit, other, missing, 0);
        if self.recipe.habit != Habit::Nothing {
            self.books.pour(visit, other, missing, 0);
        }
        true
    }
}

/// What a stalled job costs: the dearest of its types.
fn stall_cost(shop: &Shop, facts: &Facts, visit: &Visit) -> f64 {
    let own = |place: &usize| facts.job_types[*place].stall_cost.unwrap_or(shop.stall_cost);
    visit.job_types.iter().map(own).max().unwrap_or(shop.stall_cost).minor() as f64 / 100.0
}
