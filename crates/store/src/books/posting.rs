//! The books: containers are taken from the database, the rules of the shelf post rows to them, and
//! what that changed is written back.

use std::collections::{BTreeSet, HashMap, HashSet};

use capful_domain::{ContainerId, Id, Ledger, Left, Movement, MovementKind, Product, Shop, Source};
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict, SimpleExpr};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use sea_orm::{JoinType, Order};
use uuid::Uuid;

use crate::books::live_entry;
use crate::books::rebuild::{self, OutOfOrder};
use crate::books::shelf::{Reach, ShelfRow};
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::work::Work;
use crate::queries::latest::{self, Latest, ShopAndLast};
use crate::queries::listing::Posted;
use crate::request::change::Effects;
use crate::rows::{
    ContainerColumn, Containers, KeptRow, Movements, Stored, StoredMovement, source_word,
};

/// Containers as they were when they were taken from the database.
#[derive(Debug, Default)]
pub(crate) struct Taken {
    pub rows: HashMap<ContainerId, KeptRow>,
    /// What the ledger goes on from.
    pub left: Left,
}

/// Whether rows come from a person now, or out of a history that was read as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum EntryMode {
    Live,
    Import,
}

/// Posts rows in their order, before they are written, and writes what that came to. Gives the
/// products that have to be restated once they are.
pub(crate) async fn post(
    work: &Work<'_>,
    shop: &Shop,
    rows: &[ShelfRow<'_>],
    told: EntryMode,
    outcome: &mut Effects,
) -> Result<OutOfOrder, Failure> {
    if rows.is_empty() {
        return Ok(OutOfOrder::new());
    }
    let ids = rows.iter().map(|row| row.product().clone()).collect();
    let products = the_products(work, &ids).await?;
    let latest = latest::latest(work, &ids).await?;
    post_to(work, shop, (&products, &latest), rows, told, outcome).await
}

/// The same, to products of which it is known when their last row happened.
pub(crate) async fn post_to(
    work: &Work<'_>,
    shop: &Shop,
    (products, latest): (&[Product], &Latest),
    rows: &[ShelfRow<'_>],
    told: EntryMode,
    outcome: &mut Effects,
) -> Result<OutOfOrder, Failure> {
    if rows.is_empty() {
        return Ok(OutOfOrder::new());
    }
    let mut reach = Reach::of(rows);
    for row in rows {
        let own = products.iter().find(|product| product.id == *row.product());
        own.map_or(Ok(()), |product| row.check(product))?;
    }
    loop {
        let taken = take(work, shop, &reach).await?;
        let mut ledger = Ledger::resume(shop, products, taken.left.clone());
        let mut sources = Vec::new();
        let mut unknown = BTreeSet::new();
        for row in rows {
            if let Some(name) = row.container() {
                if !ledger.knows(name, row.product()) {
                    unknown.insert(row.product().clone());
                }
                if told == EntryMode::Live {
                    may_be_named(&taken, name)?;
                }
            }
            let product = products.iter().find(|product| product.id == *row.product());
            if let Some(product) = product.filter(|_| told == EntryMode::Live) {
                live_entry::check(row, &ledger, product)?;
            }
            row.post(&mut ledger);
            sources.resize(ledger.movements().len(), row.source());
        }
        let short = found(&ledger).filter(|product| reach.live.contains(*product));
        let short: Vec<Id> = short.chain(&unknown).cloned().collect();
        if reach.widen(short) {
            continue;
        }
        if told == EntryMode::Live && !unknown.is_empty() {
            return Err(no_such_container(rows, &unknown).into());
        }
        let mut late = rebuild::late(rows, latest);
        rebuild::revived(&taken, &ledger, &sources, &mut late);
        write(work, &taken, &ledger, &sources, outcome).await?;
        return Ok(late);
    }
}

/// Products of which more was taken than the books held.
fn found(ledger: &Ledger) -> impl Iterator<Item = &Id> {
    let counted = ledger.movements().iter().filter(|m| m.kind == MovementKind::Counted);
    counted.map(|movement| &movement.product)
}

fn no_such_container(rows: &[ShelfRow<'_>], unknown: &BTreeSet<Id>) -> StoreError {
    let row = rows.iter().find(|row| unknown.contains(row.product()));
    let name = row.and_then(ShelfRow::container).map(ToString::to_string).unwrap_or_default();
    StoreError::NotFound { what: "container", id: name }
}

/// A container that a pour or a discard found was never there but on paper.
fn may_be_named(taken: &Taken, name: &ContainerId) -> Result<(), StoreError> {
    let Some(row) = taken.rows.get(name) else { return Ok(()) };
    if ["pour", "expected", "discard"].contains(&row.source_kind.as_str()) {
        let text = format!(
            "container: {name} holds nothing, more was taken than the books held; one that a \
             receipt, a mix, a count or an opening brought"
        );
        return Err(StoreError::Refused(text));
    }
    Ok(())
}

/// The products that rows are of.
pub(crate) async fn the_products(
    work: &Work<'_>,
    ids: &BTreeSet<Id>,
) -> Result<Vec<Product>, Failure> {
    let names: Vec<&str> = ids.iter().map(Id::as_str).collect();
    let wanted = match names.len() > sql::MOST_VALUES {
        true => Expr::value(1).eq(1),
        false => sql::one_of("own_id", &names),
    };
    let own = <Product as Stored>::Table::find()
        .filter(sql::of_shop(work.shop))
        .filter(wanted)
        .order_by_asc(Expr::col("own_id"));
    let rows = own.all(&work.tx).await?;
    let products: Result<Vec<Product>, _> =
        rows.iter().map(|row| Product::from_row(row).map(|(_, product)| product)).collect();
    let products = products?;
    must_be_all(ids, &products)?;
    Ok(products)
}

/// What a job's end is posted to.
pub(crate) struct Before {
    pub shop: Shop,
    pub products: Vec<Product>,
    pub latest: Latest,
    /// Products of which a pour for the job stands.
    pub poured: HashSet<Id>,
}

/// What a job's end is posted to, with one query; nothing where no product is named.
pub(crate) async fn for_job(
    work: &Work<'_>,
    ids: &BTreeSet<Id>,
    job: &Id,
) -> Result<Option<Before>, Failure> {
    let names: Vec<&str> = ids.iter().map(Id::as_str).collect();
    let of = |table: &'static str, column: &'static str| Expr::col((table, column));
    let mut own = <Product as Stored>::Table::find()
        .select_also(<Shop as Stored>::Table::default())
        .filter(of("product", "shop_id").eq(work.shop))
        .filter(of("product", "own_id").is_in(sql::filled(&names)));
    QuerySelect::query(&mut own)
        .join(JoinType::InnerJoin, "shop", of("shop", "shop_id").equals(("product", "shop_id")))
        .order_by(("product", "own_id"), Order::Asc);
    latest::ask(QuerySelect::query(&mut own));
    latest::ask_poured(QuerySelect::query(&mut own), work.shop, job);
    let rows = own.into_model::<<Product as Stored>::Row, ShopAndLast>().all(&work.tx).await?;
    let mut products = Vec::with_capacity(rows.len());
    let (mut shop, mut latest, mut poured) = (None, Latest::default(), HashSet::new());
    for (row, beside) in &rows {
        let (_, product) = Product::from_row(row)?;
        let Some(beside) = beside else { continue };
        latest.note(&product.id, beside.last);
        if beside.is_poured {
            poured.insert(product.id.clone());
        }
        products.push(product);
        shop = match shop {
            None => Some(Shop::from_row(&beside.shop)?.1),
            shop => shop,
        };
    }
    must_be_all(ids, &products)?;
    Ok(shop.map(|shop| Before { shop, products, latest, poured }))
}

fn must_be_all(ids: &BTreeSet<Id>, products: &[Product]) -> Result<(), StoreError> {
    let known: HashSet<&Id> = products.iter().map(|product| &product.id).collect();
    match ids.iter().find(|id| !known.contains(id)) {
        Some(missing) => Err(sql::not_found::<Product>(missing.as_str())),
        None => Ok(()),
    }
}

async fn take(work: &Work<'_>, shop: &Shop, reach: &Reach) -> Result<Taken, Failure> {
    fn texts<'r, T: ToString + 'r>(list: impl IntoIterator<Item = &'r T>) -> Vec<String> {
        list.into_iter().map(ToString::to_string).collect()
    }
    let live = texts(reach.live.difference(&reach.all));
    let (all, named, sources) = (texts(&reach.all), texts(&reach.named), texts(&reach.sources));
    if live.len() + all.len() + named.len() + sources.len() > sql::MOST_VALUES {
        return take_where(work, shop, Expr::value(1).eq(1), &reach.products).await;
    }
    let mut wanted = sql::one_of("source", &sources);
    if !live.is_empty() {
        let is_live = Expr::col("is_live").eq(true);
        wanted = wanted.or(sql::one_of("product", &live).and(is_live));
    }
    if !all.is_empty() {
        wanted = wanted.or(sql::one_of("product", &all));
    }
    if !named.is_empty() {
        wanted = wanted.or(sql::one_of("own_id", &named));
    }
    take_where(work, shop, wanted, &reach.products).await
}

/// Containers for which `wanted` holds; of those of other products the names only. Those that no
/// row brings any more have rows, and are not there for the ledger.
pub(crate) async fn take_where(
    work: &Work<'_>,
    shop: &Shop,
    wanted: SimpleExpr,
    products: &BTreeSet<Id>,
) -> Result<Taken, Failure> {
    let own = Containers::find().filter(sql::of_shop(work.shop)).filter(wanted);
    let mut taken = Taken::default();
    let rows = own.order_by_asc(Expr::col("id")).all(&work.tx).await?;
    let rows: Result<Vec<_>, _> = rows.iter().map(|row| KeptRow::from_row(row, shop)).collect();
    let mut rows = rows?;
    rows.sort_by_key(KeptRow::turn);
    for row in rows {
        if products.contains(&row.kept.container.product) {
            if !row.is_gone() {
                taken.left.containers.push(row.kept.clone());
            }
            taken.rows.insert(row.name().clone(), row);
        } else {
            taken.left.taken.insert(row.name().clone());
        }
    }
    Ok(taken)
}

/// Writes the movements and the containers that they touched. `sources` says which row each
/// movement comes from, in the order of the movements.
pub(crate) async fn write(
    work: &Work<'_>,
    taken: &Taken,
    ledger: &Ledger,
    sources: &[Source],
    outcome: &mut Effects,
) -> Result<(), Failure> {
    let posted: Vec<Movement> = ledger
        .movements()
        .iter()
        .zip(sources)
        .map(|(movement, source)| Movement { source: source.clone(), ..movement.clone() })
        .collect();
    write_posted(work, taken, ledger, posted, |_| None, outcome).await
}

/// Writes movements that were posted, each with the one that it undoes, and the containers that
/// they touched.
pub(crate) async fn write_posted(
    work: &Work<'_>,
    taken: &Taken,
    ledger: &Ledger,
    posted: Vec<Movement>,
    undoes: impl Fn(&Movement) -> Option<Uuid> + Send,
    outcome: &mut Effects,
) -> Result<(), Failure> {
    let containers = touched(work, taken, ledger, &posted);
    let models = containers.iter().map(|row| row.to_row(work.shop)).collect();
    sql::put_models::<Containers>(work, models, Some(over_the_old())).await?;
    let mut stored = numbered(work, taken, posted.clone());
    for new in &mut stored {
        new.reverses = undoes(&new.movement);
    }
    insert_movements(work, &stored).await?;
    outcome.posted.extend(stored.into_iter().map(Posted::from));
    outcome.movements.extend(posted);
    outcome.containers.extend(containers.into_iter().map(|row| row.kept.container));
    Ok(())
}

/// Movements with new ids, each numbered on from its container's last.
pub(crate) fn numbered(
    work: &Work<'_>,
    taken: &Taken,
    posted: Vec<Movement>,
) -> Vec<StoredMovement> {
    let mut numbers: HashMap<ContainerId, i64> = HashMap::new();
    let mut stored = Vec::with_capacity(posted.len());
    for movement in posted {
        let before = || taken.rows.get(&movement.container).map_or(0, |row| row.movements);
        let number = numbers.entry(movement.container.clone()).or_insert_with(before);
        *number += 1;
        let number = *number;
        stored.push(StoredMovement { movement, id: work.new_id(), number, reverses: None });
    }
    stored
}

pub(crate) async fn insert_movements(
    work: &Work<'_>,
    stored: &[StoredMovement],
) -> Result<(), Failure> {
    let models = stored.iter().map(|movement| movement.to_row(work.shop)).collect();
    sql::insert_models::<Movements>(work, models).await
}

/// The containers that movements touched, new ones too, as they are now.
fn touched(work: &Work<'_>, taken: &Taken, ledger: &Ledger, posted: &[Movement]) -> Vec<KeptRow> {
    let mut moved: HashMap<&ContainerId, (i64, &Source)> = HashMap::new();
    for movement in posted {
        moved.entry(&movement.container).or_insert((0, &movement.source)).0 += 1;
    }
    let mut rows = Vec::with_capacity(moved.len());
    for container in ledger.containers() {
        let Some((count, source)) = moved.get(&container.id) else { continue };
        let Some(kept) = ledger.keep(&container.id) else { continue };
        let before = taken.rows.get(&container.id);
        rows.push(KeptRow {
            kept,
            id: before.map_or_else(|| work.new_id(), |row| row.id),
            source_kind: before
                .map_or_else(|| source_word(source).to_owned(), |row| row.source_kind.clone()),
            movements: before.map_or(0, |row| row.movements) + count,
        });
    }
    rows
}

/// A container that is there already is written over in what movements change. Known by the
/// service's id: two new ones of the same name are two, and refused.
fn over_the_old() -> OnConflict {
    OnConflict::columns([ContainerColumn::ShopId, ContainerColumn::Id])
        .update_columns([
            ContainerColumn::LeftOver,
            ContainerColumn::Gained,
            ContainerColumn::OpenedAt,
            ContainerColumn::OpenedSeen,
            ContainerColumn::Discarded,
            ContainerColumn::IsLive,
            ContainerColumn::Movements,
        ])
        .to_owned()
}
