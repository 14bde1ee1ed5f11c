//! Whether the store says of a shop what the model knows of it.

use std::collections::BTreeMap;

use capful_domain::facts::{Count, Discard, Mix, Opening, Order, Pour, Receipt};
use capful_domain::{Container, Facts, Id, Job, OrderBook};
use capful_store::{AuditAction, Change, MovementFilter, Store, StoreError, Stored};
use uuid::Uuid;

use crate::common::march;
use crate::same;
use crate::shelf::{Bottle, Event, ul, water_of};
use crate::shop::Model;

/// Rows of a page: most kinds have several of them in the end.
const PAGE: u64 = 5;

fn failed(error: StoreError) -> String {
    format!("reading failed: {error}")
}

/// Holds the store against the model.
///
/// # Errors
/// What differs.
pub async fn compare(
    store: &Store,
    shop: Uuid,
    model: &mut Model,
    last: Option<&Change>,
) -> Result<(), String> {
    let facts = store.facts(shop, None).await.map_err(failed)?;
    model.adopt_pours(&facts.pours);
    rows(&facts, model)?;
    set_up_and_calendar(&facts, model)?;
    on_order(&facts, model)?;
    let containers = store.containers(shop, None, false).await.map_err(failed)?;
    for (product, _) in &model.products {
        bottles(&containers, model, &product.id)?;
    }
    counted(&containers, model, last)?;
    movements(store, shop, &containers).await?;
    pages(store, shop, model).await?;
    jobs(store, shop, model).await?;
    deeds(store, shop, model).await
}

/// The rows that stand, in the order they were told.
fn rows(facts: &Facts, model: &Model) -> Result<(), String> {
    let mut here = Facts::new(facts.shop.clone());
    for event in model.standing() {
        match event.clone() {
            Event::Receipt(row) => here.receipts.push(row),
            Event::Discard(row) => here.discards.push(row),
            Event::Opening(row) => here.openings.push(row),
            Event::Mix(row) => here.mixes.push(row),
            Event::Pour(row) => here.pours.push(row),
            Event::Count(row) => here.counts.push(row),
        }
    }
    same("receipts", &facts.receipts, &here.receipts)?;
    same("discards", &facts.discards, &here.discards)?;
    same("openings", &facts.openings, &here.openings)?;
    same("mixes", &facts.mixes, &here.mixes)?;
    same("pours", &facts.pours, &here.pours)?;
    same("counts", &facts.counts, &here.counts)
}

fn set_up_and_calendar(facts: &Facts, model: &Model) -> Result<(), String> {
    let products: Vec<_> = model.products.iter().map(|own| own.0.clone()).collect();
    same("products", &facts.products, &products)?;
    let jobs: Vec<_> = model.jobs.iter().map(|own| own.0.clone()).collect();
    same("jobs", &facts.jobs, &jobs)?;
    let orders: Vec<_> = model.orders.iter().map(|own| own.0.clone()).collect();
    same("orders", &facts.orders, &orders)?;
    same("lines of orders", &facts.order_lines, &model.lines)
}

fn on_order(facts: &Facts, model: &Model) -> Result<(), String> {
    let mut there: BTreeMap<(Id, Id), u32> = BTreeMap::new();
    for line in OrderBook::of(facts).outstanding {
        *there.entry((line.order, line.product)).or_insert(0) += line.containers;
    }
    same("on order", &there, &model.on_order())
}

/// Bottles of a product: those that the model knows are as it has them, and nothing is left in any
/// other.
fn bottles(containers: &[Container], model: &Model, product: &Id) -> Result<(), String> {
    if model.beyond.contains(product) {
        return Ok(());
    }
    let shown = |own: &Container| {
        let opened = own.opened.map(|opened| (opened.at, opened.seen));
        let water = own.mix.map(water_of);
        let (size, left) = (own.size.ledger_units(), own.left.ledger_units());
        let state = own.state();
        format!(
            "{} {state:?} {left} of {size} {opened:?} {:?} {water:?} {:?}",
            own.id, own.discarded, own.sealed_use_by
        )
    };
    let of_model = |own: &Bottle| {
        let (name, state, left, size) = (&own.name, own.state(), own.left, own.size);
        format!(
            "{name} {state:?} {left} of {size} {:?} {:?} {:?} {:?}",
            own.opened, own.is_discarded, own.water, own.good_until
        )
    };
    let known = model.bottles(product);
    let mut here: Vec<String> = known.iter().map(of_model).collect();
    let is_known = |own: &Container| known.iter().any(|bottle| bottle.name == own.id.as_str());
    let own = || containers.iter().filter(|own| own.product == *product);
    let mut there: Vec<String> = own().filter(|own| is_known(own)).map(shown).collect();
    here.sort();
    there.sort();
    same("bottles", &there, &here)?;
    let others: Vec<String> =
        own().filter(|own| !is_known(own) && !own.left.is_zero()).map(shown).collect();
    same("bottles that nobody brought", &others, &Vec::new())
}

/// What was counted last of a whole product is what is there.
fn counted(containers: &[Container], model: &Model, last: Option<&Change>) -> Result<(), String> {
    let Some(Change::Count(count)) = last else { return Ok(()) };
    let (Some(amount), None, None) = (count.amount, &count.container, count.sealed) else {
        return Ok(());
    };
    let when = Event::Count(count.clone()).when();
    let mut own = model.standing().filter(|event| *event.product() == count.product);
    if own.any(|event| event.when() > when) {
        return Ok(());
    }
    let own = containers.iter().filter(|own| own.product == count.product);
    let there: i64 = own.map(|own| own.left.ledger_units()).sum();
    same("what was counted", &there, &ul(amount))
}

/// Containers hold the sum of their movements, which are numbered from 1, and never less than
/// nothing.
async fn movements(store: &Store, shop: Uuid, containers: &[Container]) -> Result<(), String> {
    let all = store.movements(shop, &MovementFilter::All).await.map_err(failed)?;
    let mut sums: BTreeMap<String, (i64, Vec<i64>)> = BTreeMap::new();
    for posted in all {
        let own = sums.entry(posted.movement.container.to_string()).or_default();
        own.0 += posted.movement.change.ledger_units();
        own.1.push(posted.number);
    }
    for container in containers {
        let (sum, mut numbers) = sums.remove(container.id.as_str()).unwrap_or_default();
        same(container.id.as_str(), &container.left.ledger_units(), &sum)?;
        numbers.sort_unstable();
        let from_one: Vec<i64> = (1..).take(numbers.len()).collect();
        same("numbers of movements", &numbers, &from_one)?;
        if sum < 0 {
            return Err(format!("{} holds less than nothing: {sum}", container.id));
        }
    }
    same("movements of no container", &sums, &BTreeMap::new())
}

async fn ids<T: Stored>(store: &Store, shop: Uuid) -> Result<Vec<(String, i64, bool)>, String> {
    let mut all = Vec::new();
    let (mut after, mut is_last) = (None, false);
    while !is_last {
        let page = store.page::<T>(shop, after, PAGE).await.map_err(failed)?;
        is_last = (page.len() as u64) < PAGE;
        after = page.last().map(|last| last.place.id);
        all.extend(page.iter().map(|own| {
            let (place, version) = (own.place, own.place.version);
            (own.row.key(), version, place.reversed_at.is_some())
        }));
    }
    Ok(all)
}

/// What is listed page by page: every row, reversed or not, and at which version.
async fn pages(store: &Store, shop: Uuid, model: &Model) -> Result<(), String> {
    let there = [
        (ids::<Receipt>(store, shop).await?, capful_store::EventKind::Receipt),
        (ids::<Discard>(store, shop).await?, capful_store::EventKind::Discard),
        (ids::<Opening>(store, shop).await?, capful_store::EventKind::Opening),
        (ids::<Mix>(store, shop).await?, capful_store::EventKind::Mix),
        (ids::<Pour>(store, shop).await?, capful_store::EventKind::Pour),
        (ids::<Count>(store, shop).await?, capful_store::EventKind::Count),
    ];
    for (there, kind) in there {
        let own = model.rows.iter().filter(|row| row.event.kind() == kind);
        let here: Vec<_> = own.map(|row| (row.event.id().to_string(), row.is_reversed)).collect();
        let there: Vec<_> = there.into_iter().map(|(id, _, reversed)| (id, reversed)).collect();
        same(kind.word(), &there, &here)?;
    }
    let here = model.jobs.iter().map(|(job, version)| (job.id.to_string(), *version, false));
    same("pages of jobs", &ids::<Job>(store, shop).await?, &here.collect::<Vec<_>>())?;
    let here = model.orders.iter().map(|(order, version)| (order.id.to_string(), *version, false));
    same("pages of orders", &ids::<Order>(store, shop).await?, &here.collect::<Vec<_>>())
}

async fn jobs(store: &Store, shop: Uuid, model: &Model) -> Result<(), String> {
    let (from, to) = (march(4), march(15));
    let there = store.jobs_between(shop, from, to).await.map_err(failed)?;
    let there: Vec<Job> = there.into_iter().map(|own| own.row).collect();
    let mut here: Vec<Job> = model.jobs.iter().map(|own| own.0.clone()).collect();
    here.sort_by_key(|job| job.planned_on);
    let between = here.iter().filter(|job| (from..to).contains(&job.planned_on));
    same("jobs by their days", &there, &between.cloned().collect())?;
    let there = store.jobs_back(shop, Some("ESTATE 1"), 1, 3).await.map_err(failed)?;
    let there: Vec<Job> = there.into_iter().map(|own| own.row).collect();
    let own = here.iter().rev().filter(|job| job.vehicle.as_deref() == Some("estate 1"));
    same("jobs from the last back", &there, &own.skip(1).take(3).cloned().collect())?;
    for (job, _) in model.jobs.iter().rev().take(3) {
        let there = store.poured_for(shop, &job.id).await.map_err(failed)?;
        same("poured for", &there.into_iter().collect(), &model.poured_for(&job.id))?;
    }
    Ok(())
}

/// Who did what, the last first.
async fn deeds(store: &Store, shop: Uuid, model: &Model) -> Result<(), String> {
    let count = model.deeds.len() as u64;
    let there = store.deeds(shop, None, count).await.map_err(failed)?;
    let stays = [
        AuditAction::Reversed,
        AuditAction::Undone,
        AuditAction::PersonAdded,
        AuditAction::PersonChanged,
        AuditAction::PasswordSet,
        AuditAction::PersonEnded,
        AuditAction::TokenMade,
        AuditAction::TokenRevoked,
    ];
    let here = model.deeds.iter().rev().map(|deed| {
        let can_be = !deed.is_undone && !stays.contains(&deed.what);
        (deed.what, deed.of.clone(), deed.is_undone, can_be)
    });
    let there = there
        .iter()
        .map(|deed| (deed.what, deed.of.clone(), deed.undone_at.is_some(), deed.can_be_undone));
    same("who did what", &there.collect::<Vec<_>>(), &here.collect())
}
