//! One day after the other: deliveries, jobs, counts, mishaps and the weekly order.

use std::collections::BTreeMap;

use capful_domain::facts::{DiscardReason, Receipt};
use capful_domain::{ContainerId, Facts, Form, Id, Money, Product, Quantity, Ratio, Unit};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use rand::RngExt;

use crate::calendar::{self, Visit};
use crate::chance::{Rng, normal, pick};
use crate::counting;
use crate::owner::View;
use crate::recording::{Poured, Records};
use crate::shelf::{Container, Draw, Shelf};
use crate::world::{World, mixed_ahead, step};

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

/// One product taken for one job.
struct Use {
    visit: usize,
    product: usize,
    ratio: Ratio,
    /// As written on the sheet: of the mix.
    amount: Quantity,
    measured: bool,
}

enum Event {
    Order,
    Delivery(Coming),
    Count(usize),
    Mishap,
    Use(Use),
}

/// The hidden shop, and what it has written down so far.
#[derive(Clone)]
pub struct Simulation<'a> {
    world: &'a World,
    visits: &'a [Visit],
    job_ids: Vec<Id>,
    from: NaiveDate,
    today: NaiveDate,
    shelf: Shelf,
    records: Records,
    coming: Vec<Coming>,
    next_count: Vec<NaiveDate>,
    weekly: Vec<f64>,
}

impl<'a> Simulation<'a> {
    /// The shop on its first morning, with a filled shelf.
    pub fn new(
        world: &'a World,
        visits: &'a [Visit],
        from: NaiveDate,
        today: NaiveDate,
        rng: &mut Rng,
    ) -> Self {
        let products = world.facts.products.len();
        let first_count = |_| from + Days::new(rng.random_range(10..50));
        let mut simulation = Self {
            world,
            visits,
            job_ids: (1..=visits.len()).map(|n| crate::id(&format!("J-{n:04}"))).collect(),
            from,
            today,
            shelf: Shelf::new(products),
            records: Records::default(),
            coming: Vec::new(),
            next_count: (0..products).map(first_count).collect(),
            weekly: weekly(world, visits, from, today),
        };
        for product in 0..products {
            simulation.first_stock(product, rng);
        }
        simulation
    }

    /// Lives one day.
    pub fn live(&mut self, day: NaiveDate, rng: &mut Rng) {
        if !self.world.shop().is_open(day) {
            return;
        }
        self.throw_away_expired(day);
        let mut events = vec![(rng.random_range(500..540), Event::Order)];
        self.deliveries(day, &mut events, rng);
        self.counts(day, &mut events, rng);
        if rng.random_bool(0.025) {
            events.push((rng.random_range(600..1000), Event::Mishap));
        }
        self.uses(day, &mut events, rng);
        events.sort_by_key(|event| event.0);
        for (minute, event) in events {
            match event {
                Event::Order => self.order(day, minute, rng),
                Event::Delivery(coming) => self.receive(coming, day, minute, rng),
                Event::Count(product) => self.count(product, day, minute, rng),
                Event::Mishap => self.mishap(day, minute, rng),
                Event::Use(taken) => self.use_up(&taken, day, minute, rng),
            }
        }
    }

    /// What is on its way of each product.
    pub fn on_order(&self) -> Vec<Quantity> {
        let mut on_order = vec![Quantity::ZERO; self.world.facts.products.len()];
        for coming in &self.coming {
            let size = self.world.product(coming.product).size();
            on_order[coming.product] += size.times(i64::from(coming.containers));
        }
        on_order
    }

    /// What the owner sees on a morning.
    pub fn view<'v>(&'v self, on_order: &'v [Quantity], day: NaiveDate) -> View<'v> {
        View {
            world: self.world,
            shelf: &self.shelf,
            on_order,
            visits: self.visits,
            weekly: &self.weekly,
            weeks: (day - self.from).num_days() as f64 / 7.0,
            day,
        }
    }

    /// What the shop wrote down.
    pub fn into_facts(self) -> Facts {
        let mut facts = self.world.facts.clone();
        let ids = self.visits.iter().zip(&self.job_ids);
        let jobs = ids.map(|(visit, id)| calendar::job(self.world, visit, id.clone(), self.today));
        facts.jobs = jobs.collect();
        self.records.into_facts(&mut facts);
        facts
    }

    fn at(&self, day: NaiveDate, minute: u32) -> DateTime<Utc> {
        calendar::moment(self.world.shop(), (day, minute))
    }

    fn first_stock(&mut self, place: usize, rng: &mut Rng) {
        let world = self.world;
        let product = world.product(place);
        let size = product.size().ledger_units() as f64;
        let containers = (4.0 * self.weekly[place] / size).ceil().max(1.0) as u32;
        let offers = &world.facts.offers;
        let offer = offers.iter().find(|offer| offer.product == product.id && offer.preferred);
        let Some(offer) = offer else { return };
        let unit_cost = offer.price.share(1, i64::from(offer.pack));
        let supplier = offer.supplier.clone();
        self.shelve(place, containers, unit_cost, supplier, None, (self.from, 480), rng);
    }

    /// Writes a receipt and puts its containers on the shelf.
    #[allow(clippy::too_many_arguments)]
    fn shelve(
        &mut self,
        place: usize,
        containers: u32,
        price: Money,
        supplier: Id,
        order: Option<Id>,
        (day, minute): (NaiveDate, u32),
        rng: &mut Rng,
    ) {
        let product = self.world.product(place);
        let lot = rng.random_bool(0.9).then(|| lot(rng));
        let best_before = product.shelf_days.and_then(|days| {
            let life = f64::from(days) * rng.random_range(0.65..1.0);
            rng.random_bool(0.75).then(|| month_end(day + Days::new(life as u64)))
        });
        let at = self.at(day, minute);
        let unit_cost = drifted(price, day, self.today, rng);
        let receipt = |id| Receipt {
            id,
            at,
            product: product.id.clone(),
            containers,
            unit_cost,
            supplier: Some(supplier),
            lot,
            best_before,
            order,
            container_size: None,
        };
        let id = self.records.receipt(receipt);
        let life = product.shelf_days.map(|days| day + Days::new(u64::from(days)));
        for number in 1..=containers {
            let container = Container {
                id: ContainerId::of(&id, number),
                left: product.size(),
                ratio: Ratio::NEAT,
                open: false,
                use_by: best_before.or(life),
            };
            self.shelf.put(place, container);
        }
    }

    fn throw_away_expired(&mut self, day: NaiveDate) {
        let at = self.at(day, 481);
        for place in 0..self.world.facts.products.len() {
            for container in self.shelf.take_expired(place, day) {
                let product = self.world.product(place);
                let reason = DiscardReason::Expired;
                self.records.discard(at, product, container.id, None, reason);
            }
        }
    }

    fn deliveries(&mut self, day: NaiveDate, events: &mut Vec<(u32, Event)>, rng: &mut Rng) {
        let coming = std::mem::take(&mut self.coming);
        let (here, later): (Vec<_>, Vec<_>) = coming.into_iter().partition(|c| c.day <= day);
        self.coming = later;
        let minute = rng.random_range(520..900);
        events.extend(here.into_iter().map(|coming| (minute, Event::Delivery(coming))));
    }

    fn receive(&mut self, coming: Coming, day: NaiveDate, minute: u32, rng: &mut Rng) {
        let Coming { order, supplier, product, containers, unit_cost, .. } = coming;
        let when = (day, minute);
        self.shelve(product, containers, unit_cost, supplier, Some(order.clone()), when, rng);
        self.records.order_received(&order);
    }

    fn order(&mut self, day: NaiveDate, minute: u32, rng: &mut Rng) {
        let on_order = self.on_order();
        let view = self.view(&on_order, day);
        let wanted = view.wanted(&view.order_day(), 0.05, rng);
        for (place, lines) in wanted {
            let supplier = &self.world.facts.suppliers[place];
            let rows = lines.iter().map(|(o, packs)| (o.product.clone(), *packs, o.code.clone()));
            let at = self.at(day, minute);
            let order = self.records.order(at, &supplier.id, rows.collect());
            let number = |n: rust_decimal::Decimal| n.try_into().unwrap_or(4.0);
            let sd = supplier.lead_days_sd.map_or(1.0, number);
            let late = if rng.random_bool(0.07) { rng.random_range(3.0..9.0) } else { 0.0 };
            let lead = normal(rng, number(supplier.lead_days), sd).max(1.0) + late;
            let arrives = day + Days::new(lead.round() as u64);
            for (offer, packs) in lines {
                let Some(product) = self.world.product_place(offer.product.as_str()) else {
                    continue;
                };
                self.coming.push(Coming {
                    order: order.clone(),
                    supplier: supplier.id.clone(),
                    product,
                    containers: packs * offer.pack,
                    unit_cost: offer.price.share(1, i64::from(offer.pack)),
                    day: arrives,
                });
            }
        }
    }

    fn counts(&mut self, day: NaiveDate, events: &mut Vec<(u32, Event)>, rng: &mut Rng) {
        for product in 0..self.next_count.len() {
            if self.next_count[product] > day {
                continue;
            }
            self.next_count[product] = day + Days::new(rng.random_range(21..=56));
            let morning = rng.random_bool(0.5);
            let minute = rng.random_range(if morning { 484..500 } else { 1076..1080 });
            events.push((minute, Event::Count(product)));
        }
    }

    fn count(&mut self, place: usize, day: NaiveDate, minute: u32, rng: &mut Rng) {
        let product = self.world.product(place);
        let seen = counting::look(product, &self.shelf, place, rng);
        let at = self.at(day, minute);
        self.records.count(at, product, seen);
    }

    /// Something falls over, or a bottle turns out to be no good.
    fn mishap(&mut self, day: NaiveDate, minute: u32, rng: &mut Rng) {
        let place = rng.random_range(0..self.world.facts.products.len());
        let product = self.world.product(place);
        if product.unit != Unit::Ml || self.shelf.of(place).is_empty() {
            return;
        }
        let at = self.at(day, minute);
        let of = self.shelf.of(place);
        let container = of[rng.random_range(0..of.len())].clone();
        let share = rng.random_range(20..60);
        let large = product.size() >= Quantity::from_ledger_units(500_000);
        let step = if large { 50_000 } else { 1000 };
        let lost = container.left.share(share, 100).ledger_units() / step * step;
        if container.open && container.ratio.is_neat() && lost > 0 {
            let lost = Quantity::from_ledger_units(lost);
            self.shelf.spill(place, &container.id, lost);
            let reason = DiscardReason::Spilled;
            self.records.discard(at, product, container.id, Some(lost), reason);
        } else if !container.open {
            self.shelf.take_container(place, &container.id);
            self.records.discard(at, product, container.id, None, DiscardReason::Damaged);
        }
    }

    /// What the day's jobs take, each line somewhere between the job's begin and end.
    fn uses(&self, day: NaiveDate, events: &mut Vec<(u32, Event)>, rng: &mut Rng) {
        let visits = self.visits.iter().enumerate();
        for (place, visit) in visits.filter(|(_, v)| v.day == day && v.cancelled.is_none()) {
            let mut taken: BTreeMap<(usize, Ratio), i64> = BTreeMap::new();
            for line in self.world.lines.iter().filter(|l| visit.services.contains(&l.service)) {
                let amount = self.world.draw_usage(line, visit.size, visit.condition, rng);
                *taken.entry((line.product, line.ratio)).or_default() += amount;
            }
            let (begin, end) = visit.work;
            let slots = u32::try_from(taken.len()).unwrap_or(0) + 1;
            let share_measured: f64 = match rng.random_range(0..100) {
                0..8 => 1.0,
                8..16 => 0.35,
                _ => 0.0,
            };
            for (slot, ((product, ratio), amount)) in (1..).zip(taken) {
                let amount = Quantity::from_ledger_units(amount);
                // Of a coating the shop wants to know how far a bottle goes.
                let share: f64 = if is_coating(self.world.product(product)) { 0.35 } else { 0.0 };
                let measured = rng.random_bool(share_measured.max(share));
                let taken = Use { visit: place, product, ratio, amount, measured };
                events.push((begin + (end - begin) * slot / slots, Event::Use(taken)));
            }
        }
    }

    fn use_up(&mut self, taken: &Use, day: NaiveDate, minute: u32, rng: &mut Rng) {
        let product = self.world.product(taken.product);
        let ahead = mixed_ahead(product, taken.ratio);
        if ahead {
            self.mix_enough(taken, day, minute, rng);
        }
        let from = if ahead { taken.ratio } else { Ratio::NEAT };
        let to_product = |mix| if ahead { mix } else { taken.ratio.product_in(mix) };
        let there = self.shelf.available(taken.product, from);
        let there = if ahead { there } else { taken.ratio.mix_of(there) };
        let amount = floor_to_step(taken.amount.min(there), step(product, taken.ratio));
        let wanted = to_product(amount);
        let draws = self.shelf.draw(taken.product, product, from, wanted, day);
        self.shelf.used[taken.product] += taken.ratio.product_in(amount);
        self.write_openings(product, &draws, day, minute, rng);
        let missing = taken.amount - amount;
        // A job that ran short is no measure of what such a job takes: nobody writes it down.
        if taken.measured && missing.is_zero() {
            self.write_pours(taken, amount, &draws, (day, minute), rng);
        }
        if missing > Quantity::ZERO && product.unit == Unit::Ml && taken.ratio.is_neat() {
            self.substitute(taken, taken.ratio.product_in(missing), (day, minute + 2), rng);
        }
    }

    /// What is short is made up with the first substitute that is there, and that is written.
    fn substitute(
        &mut self,
        taken: &Use,
        missing: Quantity,
        (day, minute): (NaiveDate, u32),
        rng: &mut Rng,
    ) {
        let world = self.world;
        let product = world.product(taken.product);
        let places = product.substitutes.iter().filter_map(|id| world.product_place(id.as_str()));
        let place = places
            .filter(|place| world.product(*place).form == Form::ReadyToUse)
            .find(|place| self.shelf.available(*place, Ratio::NEAT) >= missing);
        let Some(place) = place else { return };
        let product = world.product(place);
        let amount = floor_to_step(missing, step(product, Ratio::NEAT));
        if amount.is_zero() {
            return;
        }
        let draws = self.shelf.draw(place, product, Ratio::NEAT, amount, day);
        self.shelf.used[place] += amount;
        self.write_openings(product, &draws, day, minute, rng);
        let instead = Use { product: place, ratio: Ratio::NEAT, amount, measured: true, ..*taken };
        self.write_pours(&instead, amount, &draws, (day, minute), rng);
    }

    /// Fills spray bottles until there is enough of the mix, or no concentrate.
    fn mix_enough(&mut self, taken: &Use, day: NaiveDate, minute: u32, rng: &mut Rng) {
        const BOTTLE: Quantity = Quantity::from_ledger_units(1_000_000);
        let product = self.world.product(taken.product);
        let minute = minute - 2;
        while self.shelf.available(taken.product, taken.ratio) < taken.amount {
            let there = self.shelf.available(taken.product, Ratio::NEAT);
            let fills = BOTTLE.min(taken.ratio.mix_of(there));
            let fills = floor_to_step(fills, 10_000);
            if fills.is_zero() {
                return;
            }
            let wanted = taken.ratio.product_in(fills);
            let draws = self.shelf.draw(taken.product, product, Ratio::NEAT, wanted, day);
            self.write_openings(product, &draws, day, minute, rng);
            let from = draws.first().filter(|_| draws.len() == 1 && rng.random_bool(0.4));
            let from = from.map(|draw| draw.container.clone());
            let at = self.at(day, minute);
            let id = self.records.mix(at, product, fills, taken.ratio, from);
            let life = product.mix_days.map(|days| day + Days::new(u64::from(days)));
            let (ratio, use_by) = (taken.ratio, life);
            self.shelf.put(taken.product, Container { id, left: fills, ratio, open: true, use_by });
        }
    }

    /// Coatings are always written down when they are opened, the rest half of the times.
    fn write_openings(
        &mut self,
        product: &Product,
        draws: &[Draw],
        day: NaiveDate,
        minute: u32,
        rng: &mut Rng,
    ) {
        let coating = is_coating(product);
        for (place, draw) in (0..).zip(draws).filter(|(_, draw)| draw.opened) {
            if product.unit == Unit::Ml && (coating || rng.random_bool(0.5)) {
                let named = coating || rng.random_bool(0.5);
                let container = Some(draw.container.clone()).filter(|_| named);
                let at = self.at(day, minute + 2 * place) - chrono::Duration::minutes(1);
                self.records.opening(at, product, container);
            }
        }
    }

    /// One pour for each container, two minutes apart, none more than it held.
    fn write_pours(
        &mut self,
        taken: &Use,
        amount: Quantity,
        draws: &[Draw],
        (day, minute): (NaiveDate, u32),
        rng: &mut Rng,
    ) {
        let product = self.world.product(taken.product);
        let ahead = mixed_ahead(product, taken.ratio);
        let pieces = product.unit == Unit::Each;
        let named = is_coating(product) || ahead || (!pieces && rng.random_bool(0.25));
        let weighed = product.unit == Unit::Ml && rng.random_bool(0.1);
        let step = step(product, taken.ratio);
        let mut left = amount;
        let parts = if pieces { 1 } else { draws.len().max(1) };
        for place in 0..parts {
            let draw = draws.get(place);
            let given = draw.map_or(Quantity::ZERO, |draw| draw.amount);
            let given = if ahead { given } else { taken.ratio.mix_of(given) };
            let last = place + 1 == parts;
            let quantity = if last { left } else { floor_to_step(given, step) };
            left -= quantity;
            let minute = minute + 2 * u32::try_from(place).unwrap_or(0);
            let at = self.at(day, minute);
            let poured = Poured {
                quantity,
                ratio: taken.ratio,
                job: self.job_ids[taken.visit].clone(),
                container: draw.filter(|_| named).map(|draw| draw.container.clone()),
                weighed: weighed && !quantity.is_zero(),
            };
            self.records.pour(at, product, poured);
        }
    }
}

/// What a usual week takes of each product by the sheet, at the pace of the whole calendar.
fn weekly(world: &World, visits: &[Visit], from: NaiveDate, today: NaiveDate) -> Vec<f64> {
    let weeks = ((today - from).num_days() as f64 / 7.0).max(1.0);
    let mut weekly = vec![0.0; world.facts.products.len()];
    for visit in visits.iter().filter(|visit| visit.day < today) {
        for line in world.lines.iter().filter(|line| visit.services.contains(&line.service)) {
            weekly[line.product] += line.expected / weeks;
        }
    }
    weekly
}

fn is_coating(product: &Product) -> bool {
    product.category.as_deref() == Some("coating")
}

fn floor_to_step(quantity: Quantity, step: i64) -> Quantity {
    Quantity::from_ledger_units(quantity.ledger_units() / step * step)
}

fn lot(rng: &mut Rng) -> String {
    let letter = pick(rng, &['A', 'B', 'C', 'D', 'F', 'H', 'K', 'L']);
    format!("{letter}{}", rng.random_range(1000..10_000))
}

/// Makers print the month: its last day.
fn month_end(day: NaiveDate) -> NaiveDate {
    let next = day.with_day(1).and_then(|first| first.checked_add_months(chrono::Months::new(1)));
    next.and_then(|first| first.pred_opt()).unwrap_or(day)
}

/// Prices rose by three percent each half year; now and then there is a sale.
fn drifted(price: Money, day: NaiveDate, today: NaiveDate, rng: &mut Rng) -> Money {
    let halves = (today - day).num_days() / 182;
    let sale = if rng.random_bool(0.06) { 8 } else { 0 };
    price.share(100 - 3 * halves - sale, 100)
}
