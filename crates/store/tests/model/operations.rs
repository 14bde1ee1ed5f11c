//! What is done in a history: drawn as numbers, and made of what the shop has then, so that a
//! history with some of it left out is one too.

use capful_domain::facts::{Count, Discard, DiscardReason, Method, Mix, Opening, Pour, Receipt};
use capful_domain::facts::{Order, OrderLine, OrderStatus};
use capful_domain::{
    Condition, ContainerId, ExpectedPour, Id, Job, JobStatus, Product, Quantity, Ratio, VehicleSize,
};
use capful_store::{Change, EventKind, Finish, RowMeta, Versioned};
use chrono::{DateTime, Duration, Utc};
use proptest::prelude::*;
use uuid::Uuid;

use crate::calendar::{JOB_TYPE, SUPPLIER};
use crate::common::{self, id, march, ml, noon, ratio};
use crate::people::PeopleOp;
use crate::shop::Model;

/// Numbers that one thing is made of.
#[derive(Debug, Clone)]
pub struct Draw {
    what: u8,
    which: usize,
    size: i64,
    choice: usize,
}

/// One thing that is done.
#[derive(Debug, Clone)]
pub enum Operation {
    /// A change, known again by a key or not.
    Ask(Box<Asking>),
    /// Two changes at the same time.
    Together(Box<Change>, Box<Change>),
    /// A request that was asked before: the same again, or another body under its key.
    Again { which: usize, is_same: bool },
    /// Of a person or a token.
    Of(PeopleOp),
    /// The store is closed, and opened anew.
    Reopen,
}

/// A change as it is asked for.
#[derive(Debug, Clone)]
pub struct Asking {
    pub change: Change,
    pub version: Option<i64>,
    /// With what was asked by it.
    pub key: Option<(String, String)>,
}

/// A history of so many operations.
pub fn histories(length: usize) -> impl Strategy<Value = Vec<Draw>> {
    let one = (0..64_u8, 0..4096_usize, 0..120_i64, 0..4096_usize);
    let one = one.prop_map(|(what, which, size, choice)| Draw { what, which, size, choice });
    prop::collection::vec(one, 1..=length)
}

/// What an operation is made of: its draw, its place in the history, and the shop.
struct Making<'m> {
    draw: &'m Draw,
    place: usize,
    model: &'m Model,
}

impl Operation {
    /// The operation of a draw at its place in a history.
    pub fn of(draw: &Draw, place: usize, model: &Model) -> Self {
        let making = Making { draw, place, model };
        let Draw { what, which, choice, .. } = *draw;
        match what {
            58 => {
                // The second is made of the same shop.
                let what = (draw.choice % 50) as u8;
                let other = Draw { what, which: choice, choice: which, ..draw.clone() };
                let other = Making { draw: &other, place: place + 5000, model };
                Self::Together(Box::new(making.change()), Box::new(other.change()))
            }
            59 | 60 => Self::Again { which, is_same: !choice.is_multiple_of(3) },
            61 | 62 => Self::Of(PeopleOp::drawn(draw.size as u16, which)),
            63 => Self::Reopen,
            _ => {
                let change = making.change();
                let now = model.version_of(&change);
                let version = match choice % 4 {
                    0 => now,
                    1 if choice % 16 == 1 => now.map(|now| now + 1),
                    _ => None,
                };
                let key =
                    choice.is_multiple_of(3).then(|| (format!("k{place}"), format!("b{place}")));
                Self::Ask(Box::new(Asking { change, version, key }))
            }
        }
    }
}

impl Making<'_> {
    fn change(&self) -> Change {
        match self.draw.what {
            0..=4 => Change::Receive(vec![self.receipt()]),
            5..=8 => Change::Pour(vec![self.pour("p")]),
            9 | 10 => Change::Pour(vec![self.pour("p"), self.other_pour("pp")]),
            11..=13 => Change::Mix(self.mix()),
            14..=16 => Change::Discard(self.discard()),
            17..=20 => Change::Count(self.count()),
            21 | 22 => Change::Open(self.opening()),
            23..=28 => self.beyond(),
            29..=31 => Change::Book(self.job()),
            32 | 33 => Change::ChangeJob(Job { id: self.a_job(), ..self.job() }),
            34 => Change::StartJob { job: self.a_job(), at: self.at() },
            35 => Change::CancelJob { job: self.a_job(), at: self.at() },
            36..=39 => self.finish(),
            40 | 41 => self.order(),
            42 => Change::SetOrder { order: self.an_order(), status: self.status() },
            43 | 44 => self.last_receipt(),
            45..=48 => self.reverse(),
            49..=54 => Change::Undo { deed: self.deed() },
            _ => self.product_edit(),
        }
    }

    fn is_one_in(&self, many: usize) -> bool {
        (self.draw.choice / 7).is_multiple_of(many)
    }

    /// Later than all before; one in four of some hours or days before.
    fn at(&self) -> DateTime<Utc> {
        let place = i64::try_from(self.place % 5000).unwrap();
        let back = if self.is_one_in(4) { self.draw.size } else { 0 };
        noon(2) + Duration::hours(2 * place - back)
    }

    /// A new id, one in twelve one that a row of its kind has.
    fn own(&self, letter: &str, kind: EventKind) -> Id {
        let known = self.model.rows.iter().filter(|row| row.is_named && row.event.kind() == kind);
        let known: Vec<&Id> = known.map(|row| row.event.id()).collect();
        match self.draw.which.checked_rem(known.len()) {
            Some(place) if self.draw.choice % 12 == 5 => known[place].clone(),
            _ => id(&format!("{letter}{}", self.place)),
        }
    }

    fn product(&self) -> Id {
        match self.draw.which % 20 {
            0 => id("none"),
            1..=12 => id("soap"),
            _ => id("wax"),
        }
    }

    /// A bottle of the product, seldom one that is not there.
    fn bottle(&self, product: &Id) -> ContainerId {
        let is_known = self.model.products.iter().any(|(own, _)| own.id == *product);
        let bottles = if is_known { self.model.bottles(product) } else { Vec::new() };
        match (self.draw.which / 20).checked_rem(bottles.len()) {
            Some(place) if !self.draw.choice.is_multiple_of(13) => {
                common::container(&bottles[place].name)
            }
            _ => common::container("r9999/1"),
        }
    }

    fn maybe_bottle(&self, product: &Id) -> Option<ContainerId> {
        self.draw.choice.is_multiple_of(3).then(|| self.bottle(product))
    }

    fn receipt(&self) -> Receipt {
        let product = self.product();
        let containers = (self.draw.size % 4) as u32;
        let best = (self.draw.choice % 3 == 1).then(|| march((self.draw.size % 20) as u32 + 1));
        Receipt {
            id: self.own("r", EventKind::Receipt),
            at: self.at(),
            best_before: best,
            order: (self.draw.choice % 4 == 1).then(|| self.an_order()),
            ..common::receipt("r", 1, product.as_str(), containers)
        }
    }

    /// So much of it as can be told without a remainder.
    fn amount(&self) -> capful_domain::Amount {
        ml(self.draw.size * 20 + 10)
    }

    fn pour(&self, letter: &str) -> Pour {
        let product = self.product();
        let of_job = self.draw.choice.is_multiple_of(4).then(|| self.a_job());
        Pour {
            id: self.own(letter, EventKind::Pour),
            at: self.at(),
            container: self.maybe_bottle(&product),
            amount: self.amount(),
            job: of_job,
            ratio: self.draw.choice.is_multiple_of(5).then(|| ratio(4)),
            method: (self.draw.choice % 8 == 4).then_some(Method::Expected),
            product,
        }
    }

    /// Another pour of the same request, an hour before.
    fn other_pour(&self, letter: &str) -> Pour {
        let other = Draw { which: self.draw.choice, ..self.draw.clone() };
        let pour = Making { draw: &other, ..*self }.pour(letter);
        let at = pour.at - Duration::hours(i64::from(self.is_one_in(2)));
        Pour { at, ..pour }
    }

    fn mix(&self) -> Mix {
        let product = self.product();
        Mix {
            id: self.own("m", EventKind::Mix),
            at: self.at(),
            container: self.maybe_bottle(&product),
            amount: self.amount(),
            ratio: ratio(if self.draw.choice.is_multiple_of(2) { 4 } else { 1 }),
            product,
        }
    }

    fn discard(&self) -> Discard {
        let product = self.product();
        Discard {
            id: self.own("d", EventKind::Discard),
            at: self.at(),
            container: self.maybe_bottle(&product),
            amount: self.draw.choice.is_multiple_of(2).then(|| self.amount()),
            reason: [None, Some(DiscardReason::Expired), Some(DiscardReason::Returned)]
                [self.draw.size as usize % 3],
            product,
        }
    }

    fn count(&self) -> Count {
        let product = self.product();
        let container = Some(self.bottle(&product));
        let number = self.draw.size * 10;
        let own = common::count("c", self.at(), product.as_str(), number);
        Count { id: self.own("c", EventKind::Count), container, ..own }
    }

    fn opening(&self) -> Opening {
        let product = self.product();
        let container = Some(self.bottle(&product));
        Opening { id: self.own("o", EventKind::Opening), at: self.at(), product, container }
    }

    /// A row of a product of which the model knows little.
    fn beyond(&self) -> Change {
        let (own, at) = (|letter: &str| format!("{letter}{}", self.place), self.at());
        let number = self.draw.size * 30;
        match self.draw.what {
            23 => {
                let containers = self.draw.size as u32 % 3 + 1;
                let receipt = common::receipt(&own("r"), 1, "can", containers);
                Change::Receive(vec![Receipt { at, ..receipt }])
            }
            24 => Change::Open(common::opening(&own("o"), at, "can")),
            25 => Change::Mix(common::mix(&own("m"), at, "can", number + 10, 4)),
            26 => Change::Count(common::count(&own("c"), at, "can", number)),
            27 => {
                let sealed = Some(self.draw.size as u32 % 4);
                Change::Count(Count { sealed, ..common::count(&own("c"), at, "can", number / 4) })
            }
            _ => Change::Pour(vec![common::pour(&own("p"), at, "can", number)]),
        }
    }

    fn a_job(&self) -> Id {
        let jobs = &self.model.jobs;
        match self.draw.which.checked_rem(jobs.len()) {
            Some(place) if !self.draw.choice.is_multiple_of(17) => {
                jobs[jobs.len() - 1 - place % jobs.len()].0.id.clone()
            }
            _ => id("j9999"),
        }
    }

    fn job(&self) -> Job {
        let own = match self.draw.choice % 12 {
            5 => self.a_job(),
            _ => id(&format!("j{}", self.place)),
        };
        let job_types = match self.draw.choice % 19 {
            0 => vec![],
            1 => vec![id("magic")],
            _ => vec![id(JOB_TYPE)],
        };
        let size = VehicleSize::ALL[self.draw.which % 4];
        let vehicle = Some(format!("estate {}", self.draw.size % 3));
        let condition = Condition::new((self.draw.size % 5) as u8 + 1).unwrap();
        let own = Job { job_types, size, condition, vehicle, ..common::job(own.as_str(), 5) };
        Job { planned_on: march((self.draw.size % 28) as u32 + 1), ..own }
    }

    /// Of a job as it is, or as it once was.
    fn finish(&self) -> Change {
        let model = self.model;
        let of_now = model.jobs.iter().find(|(job, _)| job.id == self.a_job());
        let before = self.draw.which.checked_rem(model.read_before.len());
        let before = before.map(|place| &model.read_before[place]);
        let is_stale = self.draw.choice.is_multiple_of(9);
        let read = if is_stale { before.or(of_now) } else { of_now };
        let Some((row, version)) = read else { return Change::Book(self.job()) };
        let place =
            RowMeta { shop: Uuid::nil(), id: Uuid::nil(), version: *version, reversed_at: None };
        let job = Versioned { place, row: row.clone() };
        let mut pours = vec![Pour { job: None, method: None, ..self.pour("f") }];
        pours.truncate(self.draw.choice % 2);
        let at = self.at();
        let of = |product: &str, quantity: i64| ExpectedPour {
            at,
            job: row.id.clone(),
            product: id(product),
            quantity: Quantity::from_ledger_units(quantity * 1000),
            ratio: Ratio::NEAT,
        };
        let mut expected = vec![of("soap", self.draw.size), of("wax", 30)];
        expected.truncate(self.draw.which % 3);
        Change::FinishJob(Finish { job, at, pours, expected })
    }

    fn an_order(&self) -> Id {
        let orders = &self.model.orders;
        match self.draw.which.checked_rem(orders.len()) {
            Some(place) if !self.draw.choice.is_multiple_of(17) => orders[place].0.id.clone(),
            _ => id("b9999"),
        }
    }

    fn order(&self) -> Change {
        let own = match self.draw.choice % 12 {
            5 => self.an_order(),
            _ => id(&format!("b{}", self.place)),
        };
        let supplier = id(if self.draw.choice.is_multiple_of(23) { "nobody" } else { SUPPLIER });
        let line = |product: Id, packs: i64| {
            let (packs, supplier_code) = (packs as u32, None);
            OrderLine { order: own.clone(), product, packs, supplier_code }
        };
        let mut lines = vec![line(self.product(), self.draw.size % 7), line(id("wax"), 2)];
        lines.truncate(self.draw.which % 5);
        let order = Order { id: own.clone(), placed_at: self.at(), supplier, status: None };
        Change::PlaceOrder(order, lines)
    }

    fn status(&self) -> OrderStatus {
        match self.draw.choice % 3 {
            0 => OrderStatus::Placed,
            1 => OrderStatus::Received,
            _ => OrderStatus::Cancelled,
        }
    }

    fn last_receipt(&self) -> Change {
        let order = self.an_order();
        let receipt = Receipt { order: Some(order.clone()), ..self.receipt() };
        Change::ReceiveLast { receipts: vec![receipt], order }
    }

    /// Of the rows told last rather than of those told first.
    fn reverse(&self) -> Change {
        let rows = &self.model.rows;
        let named: Vec<_> = rows.iter().filter(|row| row.is_named).collect();
        let back = self.draw.which % 12;
        match named.len().checked_sub(back + 1) {
            Some(place) if !self.draw.choice.is_multiple_of(17) => {
                let event = &named[place].event;
                Change::Reverse { kind: event.kind(), id: event.id().clone() }
            }
            _ => Change::Reverse { kind: EventKind::Pour, id: id("p9999") },
        }
    }

    fn deed(&self) -> Uuid {
        let deeds = &self.model.deeds;
        let place = deeds.len().checked_sub(self.draw.which % 10 + 1);
        place.map_or(Uuid::nil(), |place| deeds[place].id)
    }

    fn product_edit(&self) -> Change {
        let own = if self.draw.which.is_multiple_of(3) {
            "can"
        } else {
            ["soap", "wax"][self.draw.which % 2]
        };
        let own = self.model.products.iter().find(|(product, _)| product.id == id(own));
        let (product, _) = own.unwrap();
        let lives = [None, Some(1), Some(4), Some(90)];
        Change::Product(Box::new(Product {
            open_days: lives[self.draw.choice % 4],
            shelf_days: lives[self.draw.which % 4],
            mix_days: lives[self.draw.size as usize % 4],
            ..product.clone()
        }))
    }
}

/// Products, receipts and a job that every history begins with.
pub fn beginning() -> Vec<Change> {
    let receipt = |own, product, containers| common::receipt(own, 1, product, containers);
    vec![
        Change::Receive(vec![receipt("r-a", "soap", 2), receipt("r-b", "wax", 2)]),
        Change::Receive(vec![receipt("r-c", "can", 2)]),
        Change::Book(Job { status: JobStatus::Booked, ..common::job("j-a", 4) }),
    ]
}
