//! Each product's shelf as the futures see it: what can be used, until when, and what comes.

use std::collections::HashSet;

use capful_domain::{
    Container, ContainerId, ContainerState, Ledger, Money, MovementKind, Offer, Snapshot, Source,
};
use chrono::NaiveDate;

use crate::learn::index::{Index, base, float};
use crate::learn::lead_time::LeadTime;
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::walk::{Arrival, Group, NEVER};

/// One product's shelf today.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ProductShelf {
    /// What can be used; `origin` is the place in `containers`.
    pub groups: Vec<Group>,
    /// What can be used, FEFO.
    pub containers: Vec<Container>,
    /// What is past its use-by.
    pub past: Vec<Container>,
    pub on_hand: f64,
    pub past_quantity: f64,
    pub on_order: f64,
    /// Lines on order: place of the supplier, of the order, age in days, containers, size of each.
    pub coming: Vec<Coming>,
    /// Money in a base unit, bought new.
    pub unit_value: f64,
    /// Days that a container which arrives is good while sealed.
    pub sealed_days: Option<i32>,
}

/// A line on order.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Coming {
    pub supplier: usize,
    pub order: capful_domain::Id,
    pub age_days: f64,
    pub count: u32,
    pub size: f64,
}

impl ProductShelf {
    /// One product's shelf at the snapshot's moment.
    pub fn of(inputs: &ModelInputs<'_>, leads: &[LeadTime], product: usize) -> Self {
        let ModelInputs { snapshot, index, ledger, .. } = *inputs;
        let rule = &snapshot.facts.products[product];
        let mut live: Vec<Container> =
            ledger.live_containers(&rule.id, snapshot.day).into_iter().cloned().collect();
        if inputs.tells_openings[product] {
            seal_what_nobody_opened(&mut live, inputs, product);
        }
        let (past, good): (Vec<Container>, Vec<Container>) =
            live.into_iter().partition(|c| c.is_past(rule, snapshot.day));
        let groups = good.iter().zip(0..).map(|(c, origin)| group(c, rule, snapshot.day, origin));
        let coming = coming(snapshot, index, leads, product);
        let sum = |containers: &[Container]| containers.iter().map(|c| base(c.left)).sum::<f64>();
        Self {
            groups: groups.collect(),
            on_hand: sum(&good),
            past_quantity: sum(&past),
            on_order: coming.iter().map(|c| f64::from(c.count) * c.size).sum(),
            coming,
            unit_value: unit_value(snapshot, index, ledger, product),
            sealed_days: sealed_days(snapshot, index, product),
            containers: good,
            past,
        }
    }

    /// What comes in one future, in the order of time; of today so much is still to come.
    pub fn arrivals(
        &self,
        leads: &[LeadTime],
        seed: u64,
        future: usize,
        today_left: f64,
    ) -> Vec<Arrival> {
        let arrive = |coming: &Coming| {
            let lead = &leads[coming.supplier];
            let day = lead.draw_rest(seed, future, &coming.order, coming.age_days, today_left);
            self.arrival(day, coming.count, coming.size)
        };
        let mut arrivals: Vec<Arrival> = self.coming.iter().map(arrive).collect();
        arrivals.sort_by_key(|a| a.day);
        arrivals
    }

    /// Containers that arrive on a day.
    pub fn arrival(&self, day: i32, count: u32, size: f64) -> Arrival {
        let until = self.sealed_days.map_or(NEVER, |life| day.saturating_add(life));
        Arrival { day, count, size, until }
    }
}

/// Where openings are written down, a container that only the books opened, as expected usage ran
/// past the one before it, is taken to be sealed still, unless a count has seen it since, or an
/// opening named it.
fn seal_what_nobody_opened(live: &mut [Container], inputs: &ModelInputs<'_>, product: usize) {
    let guessed = |c: &Container| c.opened.is_some_and(|opened| !opened.seen);
    if !live.iter().any(guessed) {
        return;
    }
    let rule = &inputs.snapshot.facts.products[product];
    let mut opened_by_books: HashSet<&ContainerId> = HashSet::new();
    for movement in inputs.ledger.standing().filter(|m| m.product == rule.id) {
        match (&movement.source, movement.kind) {
            (Source::Expected(_), MovementKind::Opened) => {
                opened_by_books.insert(&movement.container);
            }
            (Source::Count(_) | Source::Opening(_), _) => {
                opened_by_books.remove(&movement.container);
            }
            _ => {}
        }
    }
    for container in live.iter_mut().filter(|c| guessed(c) && opened_by_books.contains(&c.id)) {
        container.opened = None;
    }
    let last_day = |c: &Container| c.use_by(rule).unwrap_or(NaiveDate::MAX);
    live.sort_by_key(|c| (c.state() != ContainerState::Open, last_day(c)));
}

/// Days from the snapshot's day to another.
pub(crate) fn ahead(day: NaiveDate, today: NaiveDate) -> i32 {
    i32::try_from((day - today).num_days()).unwrap_or(NEVER)
}

fn group(
    container: &Container,
    rule: &capful_domain::Product,
    today: NaiveDate,
    origin: u32,
) -> Group {
    let days = |day: Option<NaiveDate>| day.map_or(NEVER, |day| ahead(day, today));
    Group {
        count: 1,
        left: base(container.left),
        open: container.state() == ContainerState::Open,
        sealed_until: days(container.sealed_use_by),
        until: days(container.use_by(rule)),
        mix: container.mix,
        origin,
    }
}

fn coming(snapshot: &Snapshot, index: &Index, leads: &[LeadTime], product: usize) -> Vec<Coming> {
    let shop = &snapshot.facts.shop;
    let own = snapshot.orders.outstanding.iter();
    let own = own.filter(|line| line.product == index.products[product].id);
    own.filter_map(|line| {
        let supplier = leads.iter().position(|lead| lead.supplier == line.supplier)?;
        let lost = leads[supplier].lost.contains(&line.order);
        (!lost).then(|| Coming {
            supplier,
            order: line.order.clone(),
            age_days: (snapshot.day - shop.day_of(line.placed_at)).num_days() as f64,
            count: line.containers,
            size: base(line.quantity) / f64::from(line.containers.max(1)),
        })
    })
    .collect()
}

/// Price of a base unit in an offer.
pub(crate) fn unit_price(snapshot: &Snapshot, index: &Index, offer: &Offer) -> f64 {
    let size = index.product_place(&offer.product).map_or(1.0, |p| index.products[p].size);
    money(snapshot, offer.price) / (f64::from(offer.pack.max(1)) * size)
}

/// Money as a float of the currency.
pub(crate) fn money(snapshot: &Snapshot, money: Money) -> f64 {
    float(money.to_decimal(snapshot.facts.shop.currency))
}

/// What a base unit costs to buy new: by the preferred offer, else the cheapest, else at cost.
fn unit_value(snapshot: &Snapshot, index: &Index, ledger: &Ledger, product: usize) -> f64 {
    let id = &index.products[product].id;
    let offers = snapshot.facts.offers.iter().filter(|offer| offer.product == *id);
    let best = offers
        .map(|offer| (!offer.preferred, unit_price(snapshot, index, offer)))
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    if let Some((_, price)) = best {
        return price;
    }
    let last = ledger.containers().iter().rev().find(|c| c.product == *id && c.mix.is_none());
    last.map_or(0.0, |c| money(snapshot, c.lot.unit_cost) / base(c.size).max(1e-9))
}

/// How long a container that arrives is good: as the product says, else as its lots have been.
fn sealed_days(snapshot: &Snapshot, index: &Index, product: usize) -> Option<i32> {
    let own = &index.products[product];
    let mut lives: Vec<i32> = snapshot
        .facts
        .receipts
        .iter()
        .filter(|receipt| receipt.product == own.id)
        .filter_map(|receipt| {
            receipt.best_before.map(|day| ahead(day, snapshot.facts.shop.day_of(receipt.at)))
        })
        .collect();
    lives.sort_unstable();
    own.shelf_days.or_else(|| lives.get(lives.len() / 2).copied())
}
