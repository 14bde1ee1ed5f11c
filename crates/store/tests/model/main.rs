//! A shop in memory beside the store: whatever is done, in whatever order, is answered alike by
//! both, and what the store shows is what the model knows.
//!
//! Histories are drawn from a seed, and one in which the two differ is made as short as it can be.
//! `CAPFUL_OPERATIONS=100000 CAPFUL_OPERATIONS_SEED=7` draws so many operations of another seed.

#![allow(clippy::unwrap_used)]

mod calendar;
#[path = "../common/mod.rs"]
mod common;
mod compare;
mod operations;
mod people;
mod shelf;
mod shop;

use std::collections::{BTreeSet, HashMap};
use std::fmt::Debug;

use capful_domain::{Job, Product};
use capful_store::{Answer, Answered, Change, Effects, RowMeta, Store, StoreError, WriteContext};
use chrono::Duration;
use common::{Fresh, TestShop, id, noon};
use operations::{Asking, Draw, Operation};
use people::People;
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};
use shop::{Model, Said};
use uuid::Uuid;

/// Operations of a history at most.
const LENGTH: usize = 60;
/// Operations that are drawn for each database, where nobody says how many.
const USUAL: usize = 400;
/// Histories that are tried to make one shorter.
const SHORTER: u32 = 600;

#[test]
fn the_store_is_as_the_model_on_sqlite() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    histories_agree(&runtime, &Fresh::sqlite());
}

#[test]
fn the_store_is_as_the_model_on_postgresql() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    if let Some(fresh) = runtime.block_on(Fresh::postgres()) {
        histories_agree(&runtime, &fresh);
    }
}

fn number(variable: &str, usual: usize) -> usize {
    std::env::var(variable).ok().and_then(|number| number.parse().ok()).unwrap_or(usual)
}

fn histories_agree(runtime: &tokio::runtime::Runtime, fresh: &Fresh) {
    let wanted = number("CAPFUL_OPERATIONS", USUAL);
    let seed = number("CAPFUL_OPERATIONS_SEED", 1);
    runtime.block_on(fresh.store());
    let (mut done, mut histories) = (0, 0);
    let mut said = HashMap::new();
    while done < wanted {
        let mut runner = runner(seed, histories);
        let own = std::cell::Cell::new(0);
        let kinds = std::cell::RefCell::new(HashMap::new());
        let run = runner.run(&operations::histories(LENGTH), |draws| {
            own.set(draws.len());
            let told = runtime.block_on(agrees(fresh, &draws));
            let told = told.map_err(TestCaseError::fail)?;
            kinds.replace(told);
            Ok(())
        });
        if let Err(differs) = run {
            panic!("seed {seed}, history {histories}: {differs}");
        }
        done += own.get();
        histories += 1;
        for (kind, times) in kinds.into_inner() {
            *said.entry(kind).or_insert(0) += times;
        }
    }
    println!("{done} operations in {histories} histories, seed {seed}: {said:?}");
    let rare = ["Done", "Conflict", "Stale", "Refused", "NotFound"];
    assert!(rare.iter().all(|kind| said.contains_key(*kind)), "too little was drawn: {said:?}");
}

/// Draws the history of this number.
fn runner(seed: usize, history: usize) -> TestRunner {
    let config = Config {
        cases: 1,
        max_shrink_iters: SHORTER,
        failure_persistence: None,
        ..Config::default()
    };
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    bytes[8..16].copy_from_slice(&history.to_le_bytes());
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &bytes))
}

/// How often each answer was given.
type Times = HashMap<String, usize>;

/// A history in both.
async fn agrees(fresh: &Fresh, draws: &[Draw]) -> Result<Times, String> {
    let mut history = History::begin(fresh).await?;
    let mut told = Vec::new();
    for (place, draw) in draws.iter().enumerate() {
        let operation = Operation::of(draw, place, &history.model);
        told.push(format!("{place}: {operation:?}"));
        let done = history.does(fresh, &operation).await;
        done.map_err(|differs| format!("{differs}\nafter\n{}", told.join("\n")))?;
    }
    let ended = history.is_sound().await;
    ended.map_err(|differs| format!("{differs}\nafter\n{}", told.join("\n")))?;
    history.store.close().await;
    Ok(history.times)
}

/// The store and the model, as far as they have come.
struct History {
    store: Store,
    shop: Uuid,
    model: Model,
    people: People,
    /// What was asked by a key.
    asked: Vec<Asking>,
    times: Times,
}

/// What is said where two things differ.
///
/// # Errors
/// Where they do.
pub fn same<T: PartialEq + Debug>(what: &str, there: &T, here: &T) -> Result<(), String> {
    match there == here {
        true => Ok(()),
        false => Err(format!("{what}\nof the store: {there:?}\nof the model: {here:?}")),
    }
}

/// The word for an error.
pub fn said(error: &StoreError) -> Said {
    match error {
        StoreError::NotFound { .. } => Said::NotFound,
        StoreError::Conflict { .. } => Said::Conflict,
        StoreError::Stale { .. } => Said::Stale,
        StoreError::Refused(_) => Said::Refused,
        StoreError::SameKeyOtherBody => Said::OtherBody,
        other => panic!("{other}"),
    }
}

fn answer(outcome: &Effects) -> Answer {
    Answer { status: 201, body: outcome.written.join(" ") }
}

impl History {
    async fn begin(fresh: &Fresh) -> Result<Self, String> {
        let test_shop = TestShop::with_soap(fresh).await;
        let life = |own: &str, open_days, shelf_days, mix_days| {
            let (open_days, shelf_days, mix_days) = (open_days, shelf_days, mix_days);
            Product { id: id(own), open_days, shelf_days, mix_days, ..common::soap() }
        };
        let wax = life("wax", None, Some(9), Some(3));
        let can = life("can", Some(4), None, None);
        for product in [&wax, &can] {
            test_shop.done(Change::Product(Box::new(product.clone()))).await;
        }
        let TestShop { store, shop } = test_shop;
        let model = Model {
            products: [common::soap(), wax, can].map(|product| (product, 1)).to_vec(),
            beyond: BTreeSet::from([id("can")]),
            rows: Vec::new(),
            jobs: Vec::new(),
            read_before: Vec::new(),
            orders: Vec::new(),
            lines: Vec::new(),
            deeds: Vec::new(),
            keys: HashMap::new(),
            now: noon(20),
        };
        let (people, asked, times) = (People::default(), Vec::new(), Times::new());
        let mut history = Self { store, shop, model, people, asked, times };
        for change in operations::beginning() {
            history.asks(&Asking { change, version: None, key: None }).await?;
        }
        Ok(history)
    }

    async fn does(&mut self, fresh: &Fresh, operation: &Operation) -> Result<(), String> {
        self.model.now += Duration::minutes(1);
        let now = self.model.now;
        match operation {
            Operation::Ask(asking) => {
                if asking.key.is_some() {
                    self.asked.push(asking.as_ref().clone());
                }
                self.asks(asking).await
            }
            Operation::Together(one, two) => self.asks_together(one, two).await,
            Operation::Again { which, is_same } => {
                let Some(place) = which.checked_rem(self.asked.len()) else { return Ok(()) };
                let mut asking = self.asked[place].clone();
                if let Some((_, body)) = asking.key.as_mut().filter(|_| !is_same) {
                    body.push_str(", otherwise");
                }
                self.asks(&asking).await
            }
            Operation::Of(op) => {
                let told = self.people.run(&self.store, (self.shop, now), op).await?;
                if let Some((what, id)) = told {
                    let deed = self.model.deed(what, &id.to_string());
                    self.model.deeds.push(deed);
                    self.name_deed().await?;
                }
                self.people.compare(&self.store, self.shop, now).await?;
                self.compare(None).await
            }
            Operation::Reopen => {
                self.is_sound().await?;
                let anew = Store::open(&fresh.url).await.map_err(|error| error.to_string())?;
                std::mem::replace(&mut self.store, anew).close().await;
                self.people.compare(&self.store, self.shop, now).await?;
                self.compare(None).await
            }
        }
    }

    /// What a person or a token was done is told of by an id that only the store knows.
    async fn name_deed(&mut self) -> Result<(), String> {
        let last = self.store.deeds(self.shop, None, 1).await.map_err(|error| error.to_string())?;
        if let (Some(own), Some(last)) = (self.model.deeds.last_mut(), last.first()) {
            own.id = last.id;
        }
        Ok(())
    }

    async fn compare(&mut self, last: Option<&Change>) -> Result<(), String> {
        compare::compare(&self.store, self.shop, &mut self.model, last).await
    }

    async fn is_sound(&self) -> Result<(), String> {
        let checked = self.store.check(self.shop).await.map_err(|error| error.to_string())?;
        same("the books", &checked.wrong, &Vec::new())?;
        same("posted again, the books", &checked.otherwise, &Vec::new())
    }

    fn note(&mut self, said: Said) {
        *self.times.entry(format!("{said:?}")).or_insert(0) += 1;
    }

    /// The change as the store takes it: a job that ends is one that was read there.
    async fn as_read(&self, change: &Change) -> Change {
        let mut change = change.clone();
        if let Change::FinishJob(finish) = &mut change {
            let own = self.store.get::<Job>(self.shop, finish.job.row.id.as_str()).await;
            let version = finish.job.place.version;
            let place = own.map_or(finish.job.place, |own| own.place);
            finish.job.place = RowMeta { version, ..place };
        }
        change
    }

    /// Asks both for one change.
    async fn asks(&mut self, asking: &Asking) -> Result<(), String> {
        let mut asked = WriteContext::plainly(self.shop, self.model.now);
        asked.if_match = asking.version;
        let known = asking.key.as_ref().and_then(|(key, body)| {
            let before = self.model.keys.get(key)?;
            Some(if before == body { Said::Replayed } else { Said::OtherBody })
        });
        let expected = match known {
            Some(said) => said,
            None => self.model.ask(&asking.change, asking.version),
        };
        if let Some((key, body)) = &asking.key {
            asked = asked.once(key, body);
            if expected == Said::Done {
                self.model.keys.insert(key.clone(), body.clone());
            }
        }
        let change = self.as_read(&asking.change).await;
        let there = match self.store.change(&asked, &change, answer).await {
            Ok(Answered::Fresh(outcome, _)) => {
                if expected == Said::Done {
                    self.model.adopt(&outcome);
                }
                Said::Done
            }
            Ok(Answered::Replayed(_)) => Said::Replayed,
            Err(error) => {
                let there = said(&error);
                if there != expected {
                    return Err(format!("it was answered {error}, and not {expected:?}"));
                }
                there
            }
        };
        same("it was answered", &there, &expected)?;
        self.note(there);
        let last = Some(&asking.change).filter(|_| there == Said::Done);
        self.compare(last).await
    }

    /// Asks the store for two changes at the same time: it is as if one had come before the other.
    async fn asks_together(&mut self, one: &Change, two: &Change) -> Result<(), String> {
        let asked = WriteContext::plainly(self.shop, self.model.now);
        let (one, two) = (&self.as_read(one).await, &self.as_read(two).await);
        let (first, second) = tokio::join!(
            self.store.change_plainly(&asked, one),
            self.store.change_plainly(&asked, two),
        );
        let before = self.model.clone();
        let mut told = String::new();
        for is_turned in [false, true] {
            let mut order = [(one, &first), (two, &second)];
            if is_turned {
                order.reverse();
            }
            self.model = before.clone();
            let mut are_alike = true;
            for (change, there) in order {
                let expected = self.model.ask(change, None);
                let there = there.as_ref().map_err(said);
                are_alike &= there.as_ref().err().copied().unwrap_or(Said::Done) == expected;
                if let (Ok(outcome), Said::Done) = (there, expected) {
                    self.model.adopt(outcome);
                }
            }
            match self.compare(None).await {
                Ok(()) if are_alike => return Ok(()),
                Ok(()) => told.push_str("answered otherwise\n"),
                Err(differs) => told.push_str(&differs),
            }
        }
        Err(format!("neither one after the other: {first:?} {second:?}\n{told}"))
    }
}
