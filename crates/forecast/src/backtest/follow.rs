//! What would have come of following the list: the recorded jobs walked through a shelf that
//! starts as it was on the first morning and receives what each week's plan orders.
//!
//! Two shelves go side by side. `shelf` is what is truly there: each job takes what it is known to
//! have taken. `written` is what the shop would have written down of it, with the habits it has:
//! its measured pours, counts at the same moments, openings where it tells them. The plan of each
//! week sees only what is written until its morning, as it would have.

use std::collections::{HashMap, HashSet};

use capful_domain::facts::Receipt;
use capful_domain::facts::{Count, Discard, DiscardReason, Method, Opening, Order, OrderLine};
use capful_domain::{
    Amount, Container, ContainerId, ContainerState, Effect, ExpectedPour, Facts, Id, Ledger, Money,
    Movement, Quantity, Snapshot,
};
use chrono::{DateTime, Days, NaiveDate, Utc};

use super::account::{Deliveries, Window, account, recorded};
use super::delivery::{arrives_on, best_before, on_their_way};
use super::result::{Followed, FollowedOrder, Stalled};
use super::taken::{Known, Taking};
use crate::learn::arrivals::stall_cost;
use crate::learn::index::{base, exact};
use crate::plan::{AmountIn, SupplierOrder};
use crate::planner::plan;
use crate::planner::settings::PlanSettings;
use crate::statistics::rounded;

/// Less than this share of what a job takes is not missed.
const NOT_MISSED: f64 = 1e-6;

const ASSUMES: &str = "The jobs are the recorded ones and take what they are known or thought to \
    have taken. The list is read on each order day and ordered as it stands; an order comes after \
    as many days as the shop's own order to that supplier nearest in time took, on the morning of \
    an open day. Counts are made when the shop made them. What is past its use-by is thrown away. \
    A job that finds too little, with no substitute, stalls once, takes what there is, and gets \
    the rest elsewhere. What the shop itself threw away or ordered is what it wrote down; stalls \
    are not written down, so none of its own are known. Freight is by the suppliers' terms of \
    today.";

/// Walks the weeks from each of `days` on. `step` is told after each.
pub(crate) fn follow(
    known: &Known<'_>,
    days: &[NaiveDate],
    how: (&PlanSettings, u64),
    step: &dyn Fn(),
) -> Followed {
    let facts = without_guesses(&known.end.facts);
    let shop = &facts.shop;
    let (first, last) = (days[0], days[days.len() - 1] + Days::new(7));
    let from = shop.start_of(first);
    let to = shop.start_of(last) - chrono::Duration::nanoseconds(1);
    let pours = known.takings.unmeasured(known.end, known.lessons);
    let until = |moment: DateTime<Utc>| -> Vec<ExpectedPour> {
        pours.iter().filter(|pour| pour.at <= moment).cloned().collect()
    };
    let shelf = Snapshot::of(&facts, from).ledger(&until(from));
    let past = past(&facts, &shelf, first);
    let window = Window { from, to, past };
    let mut walk = Following::new(known, &facts, shelf, window);
    for day in first.iter_days().take_while(|day| *day < last) {
        walk.morning(day);
        if days.contains(&day) {
            walk.order(day, how);
        }
        walk.work(day);
        if days.contains(&(day - Days::new(6))) {
            step();
        }
    }
    let theirs = Snapshot::of(&facts, to).ledger(&until(to));
    let own = account(&facts, &theirs, &walk.window, recorded(&facts, &walk.window), None);
    walk.finished(u32::try_from(days.len()).unwrap_or(u32::MAX), own)
}

/// The rows without what a service deducted as expected: what jobs took is known better now.
fn without_guesses(facts: &Facts) -> Facts {
    let mut facts = facts.clone();
    facts.pours.retain(|pour| pour.method != Some(Method::Expected));
    facts
}

/// What is past its use-by on a morning.
fn past(facts: &Facts, shelf: &Ledger, day: NaiveDate) -> HashSet<ContainerId> {
    let of_product = |own: &capful_domain::Product| -> Vec<ContainerId> {
        let live = shelf.live_containers(&own.id, day).into_iter();
        live.filter(|c| c.is_past(own, day)).map(|c| c.id.clone()).collect()
    };
    facts.products.iter().flat_map(of_product).collect()
}

/// What happens on one day.
#[derive(Debug, Clone, Copy)]
enum Happens<'a> {
    Thrown(&'a Discard),
    Taken(usize, &'a Taking),
    Counted(&'a Count),
}

struct Following<'a> {
    known: &'a Known<'a>,
    shelf: Ledger,
    written: Facts,
    window: Window,
    /// In the order of time.
    happens: Vec<(DateTime<Utc>, Happens<'a>)>,
    next: usize,
    /// What is on its way, and when it comes.
    coming: Vec<Receipt>,
    deliveries: Deliveries,
    orders: Vec<FollowedOrder>,
    stalled: Vec<Stalled>,
    stalls_cost: f64,
    stalled_jobs: HashSet<usize>,
    /// Whether openings of a product are told, and whether they name the container.
    tells: HashMap<Id, bool>,
    rows: u32,
}

impl<'a> Following<'a> {
    fn new(known: &'a Known<'a>, facts: &Facts, shelf: Ledger, window: Window) -> Self {
        let end = &known.end.facts;
        let mut written = Snapshot::of(end, window.from).facts;
        // Later jobs and measured pours are what they were; they are seen in their time only.
        written.jobs.clone_from(&end.jobs);
        written.pours.clone_from(&end.pours);
        for pour in written.pours.iter_mut().filter(|pour| pour.at > window.from) {
            pour.container = None;
        }
        let openings = end.openings.iter();
        let tells = openings.map(|o| (o.product.clone(), o.container.is_some())).collect();
        Self {
            coming: on_their_way(facts, window.from),
            happens: happens(known, &window),
            known,
            shelf,
            written,
            window,
            next: 0,
            deliveries: Deliveries::default(),
            orders: Vec::new(),
            stalled: Vec::new(),
            stalls_cost: 0.0,
            stalled_jobs: HashSet::new(),
            tells,
            rows: 0,
        }
    }

    /// An id that no row of the shop bears.
    fn next_id(&mut self, facts_hold: impl Fn(&Facts, &Id) -> bool) -> Option<Id> {
        loop {
            self.rows += 1;
            let id = Id::parse(&format!("followed-{}", self.rows)).ok()?;
            if !facts_hold(&self.known.end.facts, &id) {
                return Some(id);
            }
        }
    }

    /// What comes on a day is there in the morning, and what is past its use-by is thrown away.
    fn morning(&mut self, day: NaiveDate) {
        let shop = self.written.shop.clone();
        let (today, later): (Vec<Receipt>, Vec<Receipt>) =
            std::mem::take(&mut self.coming).into_iter().partition(|r| shop.day_of(r.at) <= day);
        self.coming = later;
        for receipt in today {
            self.shelf.receive(&receipt);
            self.written.receipts.push(receipt);
        }
        let products = self.written.products.clone();
        for product in &products {
            let live = self.shelf.live_containers(&product.id, day).into_iter();
            let gone: Vec<ContainerId> = live
                .filter(|c| c.is_past(product, day) && !self.window.past.contains(&c.id))
                .map(|c| c.id.clone())
                .collect();
            for container in gone {
                self.throw_away(&product.id, container, shop.start_of(day));
            }
        }
        self.go_on_to(shop.start_of(day));
    }

    fn throw_away(&mut self, product: &Id, container: ContainerId, at: DateTime<Utc>) {
        let taken = |facts: &Facts, id: &Id| facts.discards.iter().any(|d| d.id == *id);
        let Some(id) = self.next_id(taken) else { return };
        let discard = Discard {
            id,
            at,
            product: product.clone(),
            amount: None,
            container: Some(container),
            reason: Some(DiscardReason::Expired),
        };
        self.shelf.discard(&discard);
        self.written.discards.push(discard);
    }

    /// The rest of a day.
    fn work(&mut self, day: NaiveDate) {
        let tomorrow = self.written.shop.start_of(day + Days::new(1));
        self.go_on_to(tomorrow - chrono::Duration::nanoseconds(1));
    }

    fn go_on_to(&mut self, moment: DateTime<Utc>) {
        while let Some((at, happens)) = self.happens.get(self.next).copied() {
            if at > moment {
                break;
            }
            self.next += 1;
            match happens {
                Happens::Thrown(discard) => {
                    let discard = Discard { container: None, ..discard.clone() };
                    self.shelf.discard(&discard);
                    self.written.discards.push(discard);
                }
                Happens::Taken(product, taking) => self.take(product, taking),
                Happens::Counted(count) => self.count(count),
            }
        }
    }

    /// A job takes what it took, and what it lacks from a substitute; else it stalls.
    fn take(&mut self, product: usize, taking: &Taking) {
        let index = &self.known.lessons.index;
        let mut missing = taking.quantity - self.pour(product, taking, taking.quantity);
        for substitute in &index.products[product].substitutes {
            let same = |place: usize| index.products[place].unit.dimension();
            if missing > taking.quantity * NOT_MISSED && same(*substitute) == same(product) {
                missing -= self.pour(*substitute, taking, missing);
            }
        }
        let Some(job) = taking.job.filter(|_| missing > taking.quantity * NOT_MISSED) else {
            return;
        };
        if self.stalled_jobs.insert(job) {
            let row = &self.known.end.facts.jobs[job];
            let own = &index.products[product];
            self.stalls_cost += stall_cost(self.known.end, &row.job_types);
            self.stalled.push(Stalled {
                job: row.id.to_string(),
                on: self.written.shop.day_of(taking.at),
                product: own.id.to_string(),
                missing: AmountIn {
                    amount: rounded(missing / own.unit_base, 3),
                    unit: own.unit.symbol(),
                },
            });
        }
    }

    /// Pours so much, or all there is; gives how much that was.
    fn pour(&mut self, product: usize, taking: &Taking, quantity: f64) -> f64 {
        let rule = &self.known.end.facts.products[product];
        let day = self.written.shop.day_of(taking.at);
        let serves = |c: &&Container| c.serves(taking.ratio) && !c.is_past(rule, day);
        let live = self.shelf.live_containers(&rule.id, day).into_iter();
        let there: Quantity = live.filter(serves).map(|c| c.left).sum();
        let poured = exact(quantity).min(there);
        if poured.is_zero() {
            return 0.0;
        }
        let jobs = &self.known.end.facts.jobs;
        // A pour of no job's is named after its product: the shelf only has to have a name for it.
        let job = taking.job.map_or_else(|| rule.id.clone(), |place| jobs[place].id.clone());
        let before = self.shelf.movements().len();
        let (at, ratio) = (taking.at, taking.ratio);
        let pour = ExpectedPour { at, job, product: rule.id.clone(), quantity: poured, ratio };
        self.shelf.pour_expected(&pour);
        self.tell_openings(before, &rule.id, taking.at);
        if exact(quantity) == poured { quantity } else { base(poured) }
    }

    /// Writes down what was opened, where the shop does so.
    fn tell_openings(&mut self, since: usize, product: &Id, at: DateTime<Utc>) {
        let Some(named) = self.tells.get(product).copied() else { return };
        let opens = |m: &&Movement| matches!(m.effect, Effect::Opens { .. });
        let opened = self.shelf.movements()[since..].iter().filter(opens);
        let opened: Vec<ContainerId> = opened.map(|m| m.container.clone()).collect();
        for container in opened {
            let taken = |facts: &Facts, id: &Id| facts.openings.iter().any(|o| o.id == *id);
            let Some(id) = self.next_id(taken) else { return };
            let container = Some(container).filter(|_| named);
            self.written.openings.push(Opening { id, at, product: product.clone(), container });
        }
    }

    /// Counts what is truly there.
    fn count(&mut self, count: &Count) {
        let facts = &self.known.end.facts;
        let Some(rule) = facts.products.iter().find(|own| own.id == count.product) else { return };
        let day = facts.shop.day_of(count.at);
        let live = self.shelf.live_containers(&rule.id, day);
        let is_sealed = |c: &&&Container| c.state() == ContainerState::Sealed;
        let sealed = live.iter().filter(is_sealed).count();
        let apart = count.sealed.is_some();
        let seen = live.iter().filter(|c| !(apart && is_sealed(c)));
        let seen: Quantity = seen.map(|c| c.left).sum();
        self.written.counts.push(Count {
            amount: Some(Amount { number: seen.in_unit(rule.unit), unit: rule.unit }),
            gross_g: None,
            sealed: count.sealed.and(u32::try_from(sealed).ok()),
            ..count.clone()
        });
    }

    /// Reads the list and orders what stands on it.
    fn order(&mut self, day: NaiveDate, (settings, seed): (&PlanSettings, u64)) {
        let moment = self.written.shop.start_of(day);
        let list = plan(&Snapshot::of(&self.written, moment), settings, seed).weekly_order;
        for order in &list.orders {
            self.place(day, order);
        }
    }

    fn place(&mut self, day: NaiveDate, order: &SupplierOrder) -> Option<()> {
        let shop = self.written.shop.clone();
        let placed_on = order.place_by.max(day);
        let supplier = Id::parse(&order.supplier).ok()?;
        let arrives = arrives_on(self.known.end, &supplier, placed_on);
        let taken = |facts: &Facts, id: &Id| facts.orders.iter().any(|o| o.id == *id);
        let id = self.next_id(taken)?;
        let placed_at = shop.start_of(placed_on);
        let (own, from) = (id.clone(), supplier.clone());
        self.written.orders.push(Order { id: own, placed_at, supplier: from, status: None });
        for line in &order.lines {
            let product = Id::parse(&line.product).ok()?;
            let cost = Money::from_decimal(line.cost, shop.currency)?;
            self.written.order_lines.push(OrderLine {
                order: id.clone(),
                product: product.clone(),
                packs: line.packs,
                supplier_code: line.code.clone(),
            });
            let taken = |facts: &Facts, id: &Id| facts.receipts.iter().any(|r| r.id == *id);
            let receipt = self.next_id(taken)?;
            self.coming.push(Receipt {
                id: receipt,
                at: shop.start_of(arrives),
                best_before: best_before(&self.known.end.facts, &product, arrives),
                product,
                containers: line.containers,
                unit_cost: cost.share(1, i64::from(line.containers)),
                supplier: Some(supplier.clone()),
                lot: None,
                order: Some(id.clone()),
                container_size: None,
            });
        }
        self.deliveries.orders += 1;
        self.deliveries.freight += Money::from_decimal(order.freight, shop.currency)?;
        self.orders.push(FollowedOrder {
            supplier: order.supplier.clone(),
            placed_on,
            arrives_on: arrives,
            goods: order.goods,
            freight: order.freight,
        });
        Some(())
    }

    fn finished(self, weeks: u32, shop: super::Account) -> Followed {
        let jobs = u32::try_from(self.stalled.len()).unwrap_or(u32::MAX);
        let stalls = Some((jobs, self.stalls_cost));
        let list = account(&self.written, &self.shelf, &self.window, self.deliveries, stalls);
        let (orders, stalled) = (self.orders, self.stalled);
        Followed { weeks, list, shop, orders, stalled, assumes: ASSUMES }
    }
}

/// Everything that happens within the window whatever is ordered, in the order of time.
fn happens<'a>(known: &Known<'a>, window: &Window) -> Vec<(DateTime<Utc>, Happens<'a>)> {
    let (facts, takings) = (&known.end.facts, known.takings);
    let taken = takings.products.iter().enumerate();
    let taken = taken.flat_map(|(product, list)| {
        list.iter().map(move |taking| (taking.at, Happens::Taken(product, taking)))
    });
    // A part that was spilled would have been spilled all the same; a whole container that went
    // off, broke or was sent back was one of the shop's own.
    let spilled = facts.discards.iter().filter(|discard| {
        discard.amount.is_some() && discard.reason != Some(DiscardReason::Expired)
    });
    let counted = facts.counts.iter().filter(|count| count.container.is_none());
    let mut all: Vec<(DateTime<Utc>, Happens<'a>)> = spilled
        .map(|discard| (discard.at, Happens::Thrown(discard)))
        .chain(taken)
        .chain(counted.map(|count| (count.at, Happens::Counted(count))))
        .filter(|(at, _)| window.from < *at && *at <= window.to)
        .collect();
    all.sort_by_key(|(at, _)| *at);
    all
}
