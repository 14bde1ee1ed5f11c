//! A shop to tell stories with: each call is a row that somebody wrote down, at a local time.
//!
//! Rows are named by their kind and place: the second receipt is `r2` and brings `r2/1`, `r2/2`, …

#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, missing_docs)]

pub mod rows;

use capful_domain::facts::{Count, Discard, Mix, Opening, Order, OrderLine, Pour, Receipt};
use capful_domain::*;
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use chrono_tz::America::Halifax;
use rust_decimal::Decimal;

pub fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

pub fn container(text: &str) -> ContainerId {
    ContainerId::parse(text).unwrap()
}

pub fn dec(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// `"600 mL"`, `"4 fl oz"`.
pub fn amount(text: &str) -> Amount {
    let (number, unit) = text.split_once(' ').unwrap();
    Amount { number: dec(number), unit: Unit::parse(unit).unwrap() }
}

/// `"5:1"`.
pub fn ratio(text: &str) -> Ratio {
    Ratio::from_water(dec(text.strip_suffix(":1").unwrap())).unwrap()
}

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn halifax() -> Shop {
    Shop::new("Two Gulls Detailing", Halifax, Currency::parse("CAD").unwrap())
}

pub struct TestShop {
    pub facts: Facts,
    pub expected: Vec<ExpectedPour>,
}

impl TestShop {
    pub fn new() -> Self {
        Self { facts: Facts::new(halifax()), expected: Vec::new() }
    }

    /// A shop that sells one product in containers of one litre.
    pub fn with_soap() -> Self {
        let mut shop = Self::new();
        shop.product("soap", "1000 mL");
        shop
    }

    /// A local time: `2026-03-02T09:00`, or a day's noon.
    pub fn at(&self, when: &str) -> DateTime<Utc> {
        let full = if when.contains('T') { when.to_owned() } else { format!("{when}T12:00") };
        let local = NaiveDateTime::parse_from_str(&full, "%Y-%m-%dT%H:%M").unwrap();
        self.facts.shop.moment(local)
    }

    // ---- what the shop is

    pub fn product(&mut self, name: &str, size: &str) -> &mut Product {
        self.facts.products.push(Product::new(id(name), name, amount(size)));
        self.facts.products.last_mut().unwrap()
    }

    pub fn soap(&mut self) -> &mut Product {
        &mut self.facts.products[0]
    }

    pub fn offer(&mut self, supplier: &str, product: &str, pack: u32) -> &mut Offer {
        self.facts.offers.push(Offer {
            supplier: id(supplier),
            product: id(product),
            pack,
            price: Money::from_minor(4600),
            code: None,
            minimum_packs: 1,
            preferred: false,
        });
        self.facts.offers.last_mut().unwrap()
    }

    // ---- what happened

    pub fn receives(&mut self, when: &str, product: &str, containers: u32) -> &mut Receipt {
        let row = Receipt {
            id: id(&format!("r{}", self.facts.receipts.len() + 1)),
            at: self.at(when),
            product: id(product),
            containers,
            unit_cost: Money::from_minor(2000),
            supplier: None,
            lot: None,
            best_before: None,
            order: None,
            container_size: None,
        };
        self.facts.receipts.push(row);
        self.facts.receipts.last_mut().unwrap()
    }

    pub fn pours(&mut self, when: &str, product: &str, how_much: &str) -> &mut Pour {
        let row = Pour {
            id: id(&format!("p{}", self.facts.pours.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: amount(how_much),
            job: None,
            ratio: None,
            container: None,
            method: None,
        };
        self.facts.pours.push(row);
        self.facts.pours.last_mut().unwrap()
    }

    /// A done job that nobody measured, at its expected usage.
    pub fn expects(&mut self, when: &str, product: &str, how_much: &str) -> &mut ExpectedPour {
        let at = self.at(when);
        let known = self.facts.products.iter().find(|p| p.id == id(product));
        let row = ExpectedPour {
            at,
            job: id(&format!("j{}", self.expected.len() + 1)),
            product: id(product),
            quantity: known.unwrap().quantity(amount(how_much)).unwrap(),
            ratio: Ratio::NEAT,
        };
        self.expected.push(row);
        self.expected.last_mut().unwrap()
    }

    pub fn opens(&mut self, when: &str, product: &str) -> &mut Opening {
        let row = Opening {
            id: id(&format!("o{}", self.facts.openings.len() + 1)),
            at: self.at(when),
            product: id(product),
            container: None,
        };
        self.facts.openings.push(row);
        self.facts.openings.last_mut().unwrap()
    }

    pub fn discards(&mut self, when: &str, product: &str) -> &mut Discard {
        let row = Discard {
            id: id(&format!("d{}", self.facts.discards.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: None,
            container: None,
            reason: None,
        };
        self.facts.discards.push(row);
        self.facts.discards.last_mut().unwrap()
    }

    pub fn mixes(&mut self, when: &str, product: &str, how_much: &str, at: &str) -> &mut Mix {
        let row = Mix {
            id: id(&format!("m{}", self.facts.mixes.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: amount(how_much),
            ratio: ratio(at),
            container: None,
        };
        self.facts.mixes.push(row);
        self.facts.mixes.last_mut().unwrap()
    }

    pub fn counts(&mut self, when: &str, product: &str) -> &mut Count {
        let row = Count {
            id: id(&format!("c{}", self.facts.counts.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: None,
            gross_g: None,
            container: None,
            sealed: None,
            sd_share: None,
        };
        self.facts.counts.push(row);
        self.facts.counts.last_mut().unwrap()
    }

    /// Sees so much of the whole product.
    pub fn sees(&mut self, when: &str, product: &str, how_much: &str) -> &mut Count {
        let count = self.counts(when, product);
        count.amount = Some(amount(how_much));
        count
    }

    pub fn books(&mut self, when: &str, planned_on: &str) -> &mut Job {
        let row = Job {
            id: id(&format!("j{}", self.facts.jobs.len() + 1)),
            booked_at: self.at(when),
            planned_on: day(planned_on),
            status: JobStatus::Booked,
            job_types: vec![id("wash")],
            size: VehicleSize::Medium,
            condition: Condition::REFERENCE,
            started_at: None,
            finished_at: None,
            cancelled_at: None,
            vehicle: None,
            price: None,
        };
        self.facts.jobs.push(row);
        self.facts.jobs.last_mut().unwrap()
    }

    /// Places an order of one line; further lines by [`TestShop::also_orders`].
    pub fn orders(&mut self, when: &str, supplier: &str, product: &str, packs: u32) -> &mut Order {
        let order = id(&format!("po{}", self.facts.orders.len() + 1));
        let placed_at = self.at(when);
        let supplier = id(supplier);
        self.facts.orders.push(Order { id: order, placed_at, supplier, status: None });
        self.also_orders(product, packs);
        self.facts.orders.last_mut().unwrap()
    }

    pub fn also_orders(&mut self, product: &str, packs: u32) -> &mut OrderLine {
        let order = self.facts.orders.last().unwrap().id.clone();
        let product = id(product);
        self.facts.order_lines.push(OrderLine { order, product, packs, supplier_code: None });
        self.facts.order_lines.last_mut().unwrap()
    }

    // ---- what the books say

    pub fn as_of(&self, when: &str) -> Snapshot {
        Snapshot::of(&self.facts, self.at(when))
    }

    /// The ledger of all that was written down, checked against its own sums.
    pub fn ledger(&self) -> Ledger {
        let ledger = self.as_of("2099-01-01").ledger(&self.expected);
        assert_eq!(ledger.differences(), []);
        ledger
    }

    /// Every container of a product in the order they came: `r1/1 open 700`.
    pub fn shelf(&self, product: &str) -> Vec<String> {
        shelf(&self.ledger(), product)
    }

    /// The containers with something in them, in the order they are poured.
    pub fn pouring_order(&self, product: &str, on: &str) -> Vec<String> {
        let ledger = self.ledger();
        let live = ledger.live_containers(&id(product), day(on));
        live.into_iter().map(|c| c.id.to_string()).collect()
    }

    /// The last day that a container is good.
    pub fn use_by(&self, name: &str) -> Option<NaiveDate> {
        let ledger = self.ledger();
        let found = ledger.container(&container(name)).unwrap();
        found.use_by(ledger.product(&found.product).unwrap())
    }

    /// Surplus of a product that was poured and not in the books, since its last count.
    pub fn surplus(&self, product: &str) -> Option<String> {
        let ledger = self.ledger();
        let unit = ledger.product(&id(product)).unwrap().unit;
        let found = ledger.found_stock().remove(&id(product))?;
        Some(format!("{} {unit}", found.surplus.in_unit(unit)))
    }
}

pub fn shelf(ledger: &Ledger, product: &str) -> Vec<String> {
    let product = ledger.product(&id(product)).unwrap();
    let own = ledger.containers().iter().filter(|c| c.product == product.id);
    let line = |c: &Container| {
        let state = match c.state() {
            ContainerState::Open => "open",
            ContainerState::Sealed => "sealed",
            ContainerState::Empty => "empty",
            ContainerState::Discarded => "discarded",
        };
        format!("{} {state} {}", c.id, c.left.in_unit(product.unit))
    };
    own.map(line).collect()
}
