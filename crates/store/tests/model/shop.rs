//! A shop in memory: the rows that were told, the calendar, the orders, who did what. What is asked
//! of it is done whole or not at all, and answered by one word.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use capful_domain::facts::{Count, Method, OrderStatus, Pour, Receipt};
use capful_domain::facts::{Order, OrderLine};
use capful_domain::{Amount, ContainerState, Id, Job, JobStatus, Product};
use capful_store::{AuditAction, Change, Effects, EventKind, Finish};
use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::shelf::{self, Bottle, Event, Kind, Shelf, ul};

/// How something was answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    Done,
    Replayed,
    Conflict,
    Stale,
    Refused,
    NotFound,
    OtherBody,
}

/// A row that was told.
#[derive(Debug, Clone)]
pub struct Row {
    pub event: Event,
    /// Nothing of one that the store named by itself, until it is seen.
    pub is_named: bool,
    pub is_reversed: bool,
}

/// An order, what of each of its lines has not come, and whether anything has.
type Waiting<'o> = (&'o Order, Vec<(Id, u32)>, bool);

/// Something that was done.
#[derive(Debug, Clone)]
pub struct AuditEntry {
    pub id: Uuid,
    pub what: AuditAction,
    pub of: String,
    /// The rows that it told, by their places.
    pub rows: Vec<usize>,
    pub edit: Option<Edit>,
    pub is_undone: bool,
}

/// What stood before an edit, and after it.
#[derive(Debug, Clone)]
pub enum Edit {
    Job(Box<Job>, Box<Job>),
    Order(Id, Option<OrderStatus>, Option<OrderStatus>),
    Product(Box<Product>, Box<Product>),
}

/// The shop.
#[derive(Debug, Clone)]
pub struct Model {
    pub products: Vec<(Product, i64)>,
    /// The products of which rows are told that the model does not understand.
    pub beyond: BTreeSet<Id>,
    pub rows: Vec<Row>,
    pub jobs: Vec<(Job, i64)>,
    /// What jobs were before.
    pub read_before: Vec<(Job, i64)>,
    pub orders: Vec<(Order, i64)>,
    pub lines: Vec<OrderLine>,
    pub deeds: Vec<AuditEntry>,
    /// What was asked by a key.
    pub keys: HashMap<String, String>,
    pub now: DateTime<Utc>,
}

impl Event {
    pub fn id(&self) -> &Id {
        match self {
            Self::Receipt(row) => &row.id,
            Self::Discard(row) => &row.id,
            Self::Opening(row) => &row.id,
            Self::Mix(row) => &row.id,
            Self::Pour(row) => &row.id,
            Self::Count(row) => &row.id,
        }
    }

    pub fn product(&self) -> &Id {
        match self {
            Self::Receipt(row) => &row.product,
            Self::Discard(row) => &row.product,
            Self::Opening(row) => &row.product,
            Self::Mix(row) => &row.product,
            Self::Pour(row) => &row.product,
            Self::Count(row) => &row.product,
        }
    }

    /// When, and the turn of its kind among rows of the same moment.
    pub fn when(&self) -> (DateTime<Utc>, u8) {
        match self {
            Self::Receipt(row) => (row.at, 0),
            Self::Discard(row) => (row.at, 1),
            Self::Opening(row) => (row.at, 2),
            Self::Mix(row) => (row.at, 3),
            Self::Pour(row) => (row.at, 4),
            Self::Count(row) => (row.at, 5),
        }
    }

    pub fn kind(&self) -> EventKind {
        match self {
            Self::Receipt(_) => EventKind::Receipt,
            Self::Discard(_) => EventKind::Discard,
            Self::Opening(_) => EventKind::Opening,
            Self::Mix(_) => EventKind::Mix,
            Self::Pour(_) => EventKind::Pour,
            Self::Count(_) => EventKind::Count,
        }
    }

    fn container(&self) -> Option<&capful_domain::ContainerId> {
        match self {
            Self::Receipt(_) => None,
            Self::Discard(row) => row.container.as_ref(),
            Self::Opening(row) => row.container.as_ref(),
            Self::Mix(row) => row.container.as_ref(),
            Self::Pour(row) => row.container.as_ref(),
            Self::Count(row) => row.container.as_ref(),
        }
    }
}

/// An expected pour of none: it says that nothing is deducted.
pub fn is_of_nothing(pour: &Pour) -> bool {
    pour.method == Some(Method::Expected) && pour.amount.number.is_zero()
}

impl Model {
    /// Does something, or says why not and leaves everything as it was.
    pub fn ask(&mut self, change: &Change, version: Option<i64>) -> Said {
        let mut next = self.clone();
        match next.apply(change, version) {
            Ok(deed) => {
                next.deeds.push(deed);
                *self = next;
                Said::Done
            }
            Err(said) => said,
        }
    }

    /// Takes over what the store named by itself.
    pub fn adopt(&mut self, outcome: &Effects) {
        let Some(deed) = self.deeds.last_mut() else { return };
        deed.id = outcome.deed;
        if deed.what != AuditAction::JobFinished {
            return;
        }
        for (row, own) in deed.rows.iter().zip(outcome.written.iter().skip(1)) {
            if let Event::Pour(pour) = &mut self.rows[*row].event {
                pour.id = Id::parse(own).unwrap();
                self.rows[*row].is_named = true;
            }
        }
    }

    /// Takes over the names of pours that the model knows without one.
    pub fn adopt_pours(&mut self, pours: &[Pour]) {
        let named = self.rows.iter().filter(|row| row.is_named).map(|row| known(&row.event).1);
        let mut named: BTreeSet<Id> = named.collect();
        for row in self.rows.iter_mut().filter(|row| !row.is_named && !row.is_reversed) {
            let Event::Pour(own) = &mut row.event else { continue };
            let same = |pour: &&Pour| Pour { id: own.id.clone(), ..(*pour).clone() } == *own;
            let mut free = pours.iter().filter(|pour| !named.contains(&pour.id));
            if let Some(pour) = free.find(same) {
                named.insert(pour.id.clone());
                own.id = pour.id.clone();
                row.is_named = true;
            }
        }
    }

    fn apply(&mut self, change: &Change, version: Option<i64>) -> Result<AuditEntry, Said> {
        match change {
            Change::Product(product) => self.edit_product(product, version),
            Change::Book(job) => self.book(job),
            Change::ChangeJob(job) => self.change_job(job, version),
            Change::StartJob { job, at } => self.start(job, *at, version),
            Change::CancelJob { job, at } => self.cancel(job, *at, version),
            Change::FinishJob(finish) => self.finish(finish),
            Change::Pour(pours) => {
                for job in pours.iter().filter_map(|pour| pour.job.as_ref()) {
                    self.job(job)?;
                }
                let rows = pours.iter().cloned().map(Event::Pour).collect();
                self.tell(AuditAction::Poured, rows)
            }
            Change::Open(row) => self.tell(AuditAction::Opened, vec![Event::Opening(row.clone())]),
            Change::Mix(row) => self.tell(AuditAction::Mixed, vec![Event::Mix(row.clone())]),
            Change::Discard(row) => {
                self.tell(AuditAction::Discarded, vec![Event::Discard(row.clone())])
            }
            Change::Count(row) => self.tell(AuditAction::Counted, vec![Event::Count(row.clone())]),
            Change::Receive(receipts) => self.receive(receipts),
            Change::ReceiveLast { receipts, order } => self.receive_last(receipts, order),
            Change::PlaceOrder(order, lines) => self.place(order, lines),
            Change::SetOrder { order, status } => self.set_order(order, *status, version),
            Change::Reverse { kind, id } => {
                let row = self.row(*kind, id).ok_or(Said::NotFound)?;
                if self.rows[row].is_reversed {
                    return Err(Said::Refused);
                }
                self.reverse(row)?;
                Ok(self.deed(AuditAction::Reversed, id.as_str()))
            }
            Change::Undo { deed } => self.undo(*deed),
            other => unreachable!("{other:?}"),
        }
    }

    pub(crate) fn deed(&self, what: AuditAction, of: &str) -> AuditEntry {
        let (id, of) = (Uuid::nil(), of.to_owned());
        AuditEntry { id, what, of, rows: Vec::new(), edit: None, is_undone: false }
    }

    /// The place of a row.
    pub fn row(&self, kind: EventKind, id: &Id) -> Option<usize> {
        self.rows.iter().position(|row| row.event.kind() == kind && row.event.id() == id)
    }

    /// Rows that stand.
    pub fn standing(&self) -> impl Iterator<Item = &Event> {
        self.rows.iter().filter(|row| !row.is_reversed).map(|row| &row.event)
    }

    fn product(&self, id: &Id) -> Result<&Product, Said> {
        let own = self.products.iter().find(|(product, _)| product.id == *id);
        own.map(|(product, _)| product).ok_or(Said::NotFound)
    }

    /// The shelf of a product.
    pub fn shelf(&self, product: &Id) -> Shelf {
        let own = self.product(product).unwrap();
        let kind = Kind {
            size: ul(own.container_size),
            shelf_days: own.shelf_days,
            open_days: own.open_days,
            mix_days: own.mix_days,
        };
        let mut events: Vec<&Event> =
            self.standing().filter(|event| event.product() == product).collect();
        events.sort_by_key(|event| event.when());
        Shelf::of(&kind, events.into_iter())
    }

    /// Bottles of a product that rows may name.
    pub fn bottles(&self, product: &Id) -> Vec<Bottle> {
        let mut bottles = self.shelf(product).bottles;
        bottles.retain(|bottle| bottle.has_a_name);
        bottles
    }

    // ---- the shelf

    /// Tells rows of the shelf.
    pub(crate) fn tell(
        &mut self,
        what: AuditAction,
        events: Vec<Event>,
    ) -> Result<AuditEntry, Said> {
        for event in &events {
            self.product(event.product())?;
        }
        let of: BTreeSet<&str> = events.iter().map(|event| event.product().as_str()).collect();
        let of = of.into_iter().collect::<Vec<_>>().join(", ");
        let mut deed = self.deed(what, &of);
        let before: BTreeSet<(&str, Id)> = self.rows.iter().map(|row| known(&row.event)).collect();
        let mut told = BTreeSet::new();
        let (mut is_known, mut names_none) = (false, false);
        for event in events {
            match self.may_be_told(&event) {
                Err(Said::NotFound) => names_none = true,
                said => said?,
            }
            is_known |= before.contains(&known(&event)) || !told.insert(known(&event));
            deed.rows.push(self.rows.len());
            self.rows.push(Row { event, is_named: true, is_reversed: false });
        }
        match (names_none, is_known) {
            (true, _) => Err(Said::NotFound),
            (_, true) => Err(Said::Conflict),
            _ => Ok(deed),
        }
    }

    /// A row names what is there, and says of it what can be.
    fn may_be_told(&self, event: &Event) -> Result<(), Said> {
        if self.beyond.contains(event.product()) {
            return Ok(());
        }
        let shelf = self.shelf(event.product());
        let place = shelf.named(event.container());
        let named = place.map(|place| &shelf.bottles[place]);
        if named.is_some_and(|bottle| !bottle.has_a_name) {
            return Err(Said::Refused);
        }
        match event {
            Event::Opening(_) => {
                let gone = [ContainerState::Empty, ContainerState::Discarded];
                let cannot = |own: &Bottle| own.water.is_some() || gone.contains(&own.state());
                if named.is_some_and(cannot) {
                    return Err(Said::Refused);
                }
            }
            Event::Count(Count { amount: Some(amount), .. }) => {
                let size = named.map_or(1_000_000, |bottle| bottle.size);
                let water = named.and_then(|bottle| bottle.water).unwrap_or(0);
                if shelf::neat(ul(*amount), water) > size + size / 10 {
                    return Err(Said::Refused);
                }
            }
            _ => {}
        }
        match event.container() {
            Some(_) if named.is_none() => Err(Said::NotFound),
            _ => Ok(()),
        }
    }

    fn receive(&mut self, receipts: &[Receipt]) -> Result<AuditEntry, Said> {
        for receipt in receipts {
            let Some(order) = &receipt.order else { continue };
            let (own, _) = self.order(order)?;
            let is_from = receipt.supplier.as_ref().is_none_or(|from| *from == own.supplier);
            let is_over = own.status == Some(OrderStatus::Cancelled);
            if is_over || !is_from || receipt.at < own.placed_at {
                return Err(Said::Refused);
            }
        }
        if receipts.iter().any(|receipt| receipt.containers == 0) {
            return Err(Said::Refused);
        }
        self.tell(AuditAction::Received, receipts.iter().cloned().map(Event::Receipt).collect())
    }

    fn receive_last(&mut self, receipts: &[Receipt], order: &Id) -> Result<AuditEntry, Said> {
        if receipts.iter().any(|receipt| receipt.order.as_ref() != Some(order)) {
            return Err(Said::Refused);
        }
        let mut deed = self.receive(receipts)?;
        let before = self.order(order)?.0.status;
        let over = Some(OrderStatus::Received);
        self.write_order(order, over);
        deed.edit = Some(Edit::Order(order.clone(), before, over));
        Ok(deed)
    }

    /// A row was a mistake. What it brought must not be named by one that stands.
    pub(crate) fn reverse(&mut self, place: usize) -> Result<(), Said> {
        let product = self.rows[place].event.product().clone();
        let names = |model: &Self| -> BTreeSet<String> {
            model.shelf(&product).bottles.into_iter().map(|bottle| bottle.name).collect()
        };
        let is_beyond = self.beyond.contains(&product);
        let before = if is_beyond { BTreeSet::new() } else { names(self) };
        self.rows[place].is_reversed = true;
        if let Event::Pour(pour) = self.rows[place].event.clone() {
            self.note_none(&pour);
        }
        if is_beyond {
            return Ok(());
        }
        let after = names(self);
        let own = self.standing().filter(|event| *event.product() == product);
        for name in own.filter_map(Event::container) {
            if before.contains(name.as_str()) && !after.contains(name.as_str()) {
                return Err(Said::Refused);
            }
        }
        Ok(())
    }

    /// A done job of which an expected pour is reversed took none, and a row says so.
    fn note_none(&mut self, pour: &Pour) {
        let (Some(Method::Expected), Some(job)) = (pour.method, &pour.job) else { return };
        if self.job(job).is_ok_and(|(job, _)| job.status == JobStatus::Done) {
            let amount = Amount { number: Decimal::ZERO, ..pour.amount };
            let none = Pour { amount, container: None, ..pour.clone() };
            let event = Event::Pour(none);
            self.rows.push(Row { event, is_named: false, is_reversed: false });
        }
    }

    fn edit_product(
        &mut self,
        product: &Product,
        version: Option<i64>,
    ) -> Result<AuditEntry, Said> {
        let mut deed = self.deed(AuditAction::Product, product.id.as_str());
        let own = self.products.iter_mut().find(|(own, _)| own.id == product.id);
        let (own, now) = own.ok_or(Said::NotFound)?;
        if version.is_some_and(|version| version != *now) {
            return Err(Said::Stale);
        }
        deed.edit = Some(Edit::Product(Box::new(own.clone()), Box::new(product.clone())));
        *own = product.clone();
        *now += 1;
        Ok(deed)
    }

    /// What is still to come of each line of an order that is not over.
    pub fn on_order(&self) -> BTreeMap<(Id, Id), u32> {
        let mut waiting: Vec<Waiting<'_>> = Vec::new();
        for (order, _) in &self.orders {
            if order.status != Some(OrderStatus::Cancelled) {
                let own = self.lines.iter().filter(|line| line.order == order.id);
                let lines = own.map(|line| (line.product.clone(), line.packs)).collect();
                waiting.push((order, lines, false));
            }
        }
        waiting.sort_by_key(|(order, ..)| order.placed_at);
        let mut came: Vec<&Receipt> = Vec::new();
        for event in self.standing() {
            if let Event::Receipt(receipt) = event {
                came.push(receipt);
            }
        }
        came.sort_by_key(|receipt| (receipt.at, receipt.order.is_none()));
        for receipt in came {
            let mut left = receipt.containers;
            for (order, lines, has_come) in &mut waiting {
                let is_its = match &receipt.order {
                    Some(own) => *own == order.id,
                    None => order.placed_at <= receipt.at,
                };
                *has_come |= receipt.order.as_ref() == Some(&order.id);
                let own = lines.iter_mut().filter(|(product, _)| *product == receipt.product);
                for (_, missing) in own.filter(|_| is_its) {
                    let matched = left.min(*missing);
                    *missing -= matched;
                    left -= matched;
                    *has_come |= matched > 0;
                }
            }
        }
        let mut on_order = BTreeMap::new();
        for (order, lines, has_come) in waiting {
            let is_over = order.status == Some(OrderStatus::Received) && has_come;
            for (product, missing) in lines.into_iter().filter(|_| !is_over) {
                *on_order.entry((order.id.clone(), product)).or_insert(0) += missing;
            }
        }
        on_order.retain(|_, missing| *missing > 0);
        on_order
    }

    /// Ends a job: what was measured, and of the rest what is expected.
    fn finish(&mut self, finish: &Finish) -> Result<AuditEntry, Said> {
        let (read, version) = (&finish.job.row, finish.job.place.version);
        let is_open = [JobStatus::Booked, JobStatus::Started].contains(&read.status);
        let started = read.started_at.unwrap_or(read.booked_at);
        if !is_open || finish.at < read.booked_at || finish.at < started {
            return Err(Said::Refused);
        }
        let expected = finish.expected.iter().map(|pour| &pour.product);
        for product in finish.pours.iter().map(|pour| &pour.product).chain(expected) {
            self.product(product)?;
        }
        let poured: BTreeSet<Id> = self.poured_for(&read.id);
        let place = self.jobs.iter().position(|(job, _)| job.id == read.id);
        let (job, now) = &mut self.jobs[place.ok_or(Said::NotFound)?];
        if *now != version {
            return Err(Said::Stale);
        }
        self.read_before.push((job.clone(), *now));
        (job.status, job.finished_at) = (JobStatus::Done, Some(finish.at));
        *now += 1;
        if finish.pours.iter().any(|pour| pour.job.as_ref().is_some_and(|own| *own != read.id)) {
            return Err(Said::Refused);
        }
        let job = Some(read.id.clone());
        let of_job = |pour: &Pour| Event::Pour(Pour { job: job.clone(), ..pour.clone() });
        let mut events: Vec<Event> = finish.pours.iter().map(of_job).collect();
        let measured = events.len();
        for pour in &finish.expected {
            let is_measured = finish.pours.iter().any(|own| own.product == pour.product);
            if !is_measured && !poured.contains(&pour.product) {
                let number = Decimal::from(pour.quantity.ledger_units() / 1000);
                let event = Event::Pour(Pour {
                    id: Id::parse(&format!("new-{}", self.rows.len() + events.len())).unwrap(),
                    at: finish.at,
                    product: pour.product.clone(),
                    amount: Amount { number, unit: capful_domain::Unit::Ml },
                    job: job.clone(),
                    ratio: None,
                    container: None,
                    method: Some(Method::Expected),
                });
                events.push(event);
            }
        }
        let told = self.tell(AuditAction::JobFinished, events)?;
        for row in told.rows.iter().skip(measured) {
            self.rows[*row].is_named = false;
        }
        Ok(AuditEntry { of: read.id.to_string(), ..told })
    }

    /// Products of which a pour for a job stands.
    pub fn poured_for(&self, job: &Id) -> BTreeSet<Id> {
        let own = self
            .standing()
            .filter(|event| matches!(event, Event::Pour(pour) if pour.job.as_ref() == Some(job)));
        own.map(|event| event.product().clone()).collect()
    }
}

/// What a row is known by.
fn known(event: &Event) -> (&'static str, Id) {
    (event.kind().word(), event.id().clone())
}
