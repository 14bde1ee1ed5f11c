//! Restating: the books are what the rows come to in the order of time, whenever they are told.
//!
//! A row is posted to the containers as they stand. Where another of its product lies after it, or
//! it is reversed, that is not what it comes to: a count that was made since has seen it already.
//! Then all rows of the product are posted again, and what they leave otherwise in a container is
//! appended to its movements, with the row that asked for it as their source.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use capful_domain::{
    Container, ContainerId, Effect, Id, Ledger, Left, Movement, MovementKind, Product, Quantity,
    Shop, Source,
};
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};
use sea_orm::{EntityTrait, IdenStatic, Iterable, QueryFilter, QuerySelect};

use crate::books::posting::{self, Taken};
use crate::books::replay::{self, Rows};
use crate::books::shelf::ShelfRow;
use crate::db::error::Failure;
use crate::db::error::refuse;
use crate::db::sql;
use crate::db::work::Work;
use crate::queries::latest::{Latest, When};
use crate::queries::listing::Posted;
use crate::request::change::Effects;
use crate::rows::{ContainerColumn, Containers, KeptRow, source_word};

/// Products that have to be restated, each with the row that asks for it.
pub(crate) type OutOfOrder = BTreeMap<Id, Source>;

/// Products of which rows were posted after others that lie behind them in time.
pub(crate) fn late(rows: &[ShelfRow<'_>], latest: &Latest) -> OutOfOrder {
    let mut late = OutOfOrder::new();
    let mut last: HashMap<&Id, When> = HashMap::new();
    for row in rows {
        let product = row.product();
        let before = last.get(product).copied().or_else(|| latest.of(product));
        let own = (row.at(), row.turn());
        if before.is_some_and(|before| own < before) {
            late.entry(product.clone()).or_insert_with(|| row.source());
        } else {
            last.insert(product, own);
        }
    }
    late
}

/// Products of which a container is there again whose rows had all been reversed.
pub(crate) fn revived(taken: &Taken, ledger: &Ledger, sources: &[Source], late: &mut OutOfOrder) {
    if !taken.rows.values().any(KeptRow::is_gone) {
        return;
    }
    for (movement, source) in ledger.movements().iter().zip(sources) {
        if taken.rows.get(&movement.container).is_some_and(KeptRow::is_gone) {
            late.entry(movement.product.clone()).or_insert_with(|| source.clone());
        }
    }
}

/// Why a product is restated.
#[derive(Debug, Clone)]
pub(crate) enum Why {
    /// A row was told late.
    Late(Source),
    /// A row was reversed: what other rows name has to stay.
    Reversed(Source),
    /// The product or the shop is another: the same rows come to something else.
    Changed,
}

impl Work<'_> {
    /// Restates products of which rows were told late. All rows are written.
    pub(crate) async fn rebuild_late(
        &self,
        shop: &Shop,
        late: OutOfOrder,
        outcome: &mut Effects,
    ) -> Result<(), Failure> {
        if late.is_empty() {
            return Ok(());
        }
        self.flush_writes().await?;
        let ids: BTreeSet<Id> = late.keys().cloned().collect();
        for product in posting::the_products(self, &ids).await? {
            if let Some(source) = late.get(&product.id) {
                self.rebuild(shop, &product, &Why::Late(source.clone()), outcome).await?;
            }
        }
        Ok(())
    }

    /// Restates a product that was written over, where its rows come to something else now.
    pub(crate) async fn restate_changed(
        &self,
        old: &Product,
        product: &Product,
        mut outcome: Effects,
    ) -> Result<Effects, Failure> {
        let is_same = old.unit == product.unit
            && old.container_size == product.container_size
            && old.shelf_days == product.shelf_days
            && old.open_days == product.open_days
            && old.mix_days == product.mix_days
            && old.density_g_ml == product.density_g_ml
            && old.tare_g == product.tare_g;
        if !is_same {
            let shop = self.the_shop().await?;
            self.rebuild(&shop, product, &Why::Changed, &mut outcome).await?;
        }
        Ok(outcome)
    }

    /// Restates all products of a shop whose days begin at other moments now.
    pub(crate) async fn restate_all(&self, mut outcome: Effects) -> Result<Effects, Failure> {
        let shop = self.the_shop().await?;
        let all = sql::list::<Product>(&self.tx, self.shop, None).await?;
        let ids = all.into_iter().map(|(_, product)| product.id).collect();
        for product in posting::the_products(self, &ids).await? {
            self.rebuild(&shop, &product, &Why::Changed, &mut outcome).await?;
        }
        Ok(outcome)
    }

    /// Restates a product.
    pub(crate) async fn rebuild(
        &self,
        shop: &Shop,
        product: &Product,
        why: &Why,
        outcome: &mut Effects,
    ) -> Result<(), Failure> {
        let of_product = Expr::col("product").eq(product.id.as_str());
        let products = BTreeSet::from([product.id.clone()]);
        let taken = posting::take_where(self, shop, of_product, &products).await?;
        let rows = Rows::of_product(self, shop, product, &taken).await?;
        let others = self.names_of_others(product).await?;
        let left = Left { taken: others, ..Left::default() };
        let mut again = Rebuild {
            work: self,
            taken: &taken,
            ledger: Ledger::resume(shop, [product], left),
            sources: Vec::new(),
        };
        let rows = rows.in_order();
        again.post(&rows);
        if matches!(why, Why::Reversed(_)) {
            again.may_go(&rows)?;
        }
        let restated = again.restated(why);
        self.write_restated(&taken, restated, outcome).await
    }

    async fn names_of_others(&self, product: &Product) -> Result<HashSet<ContainerId>, Failure> {
        let others = Containers::find()
            .select_only()
            .column(ContainerColumn::OwnId)
            .filter(sql::of_shop(self.shop))
            .filter(Expr::col("product").ne(product.id.as_str()));
        let names: Vec<String> = others.into_tuple().all(&self.tx).await?;
        Ok(names.iter().filter_map(|name| ContainerId::parse(name).ok()).collect())
    }

    async fn write_restated(
        &self,
        taken: &Taken,
        restated: Restated,
        outcome: &mut Effects,
    ) -> Result<(), Failure> {
        let Restated { rows, movements } = restated;
        // Known by the id that it has, or by its name where it gets another.
        let has_its_id =
            |row: &&KeptRow| taken.rows.get(row.name()).is_some_and(|b| b.id == row.id);
        let (old, new): (Vec<&KeptRow>, Vec<&KeptRow>) = rows.iter().partition(has_its_id);
        for (rows, key) in [(old, ContainerColumn::Id), (new, ContainerColumn::OwnId)] {
            let models = rows.iter().map(|row| row.to_row(self.shop)).collect();
            sql::put_models::<Containers>(self, models, Some(in_all_columns(key))).await?;
        }
        let stored = posting::numbered(self, taken, movements.clone());
        posting::insert_movements(self, &stored).await?;
        outcome.posted.extend(stored.into_iter().map(Posted::from));
        outcome.movements.extend(movements);
        let now: HashSet<&ContainerId> = rows.iter().map(KeptRow::name).collect();
        outcome.containers.retain(|container| !now.contains(&container.id));
        outcome.containers.extend(rows.into_iter().map(|row| row.kept.container));
        Ok(())
    }
}

/// A container that is there already is written over in everything but its key.
fn in_all_columns(key: ContainerColumn) -> OnConflict {
    let fixed = [ContainerColumn::ShopId.as_str(), key.as_str()];
    let others = ContainerColumn::iter().filter(|column| !fixed.contains(&column.as_str()));
    OnConflict::columns([ContainerColumn::ShopId, key]).update_columns(others).to_owned()
}

/// A product whose rows are posted again.
struct Rebuild<'w> {
    work: &'w Work<'w>,
    /// Its books until now.
    taken: &'w Taken,
    ledger: Ledger,
    /// The row of each movement.
    sources: Vec<Source>,
}

/// What has to be written.
struct Restated {
    rows: Vec<KeptRow>,
    movements: Vec<Movement>,
}

impl Rebuild<'_> {
    fn post(&mut self, rows: &[ShelfRow<'_>]) {
        for row in rows {
            row.post(&mut self.ledger);
            self.sources.resize(self.ledger.movements().len(), row.source());
        }
    }

    /// A container that no row brings any more must not be named by one.
    fn may_go(&self, rows: &[ShelfRow<'_>]) -> Result<(), Failure> {
        let going = self.taken.rows.values().filter(|row| !row.is_gone());
        let going = going.filter(|row| self.ledger.container(row.name()).is_none());
        let going: HashSet<&ContainerId> =
            going.flat_map(|row| [Some(row.name()), row.kept.meant.as_ref()]).flatten().collect();
        for row in rows {
            let Some(name) = row.container().filter(|name| going.contains(name)) else { continue };
            if !self.ledger.knows(name, row.product()) {
                let source = row.source();
                let (what, id) = (source_word(&source), source.id());
                return refuse(&format!("{what} {id} names a container of it: reverse that first"));
            }
        }
        Ok(())
    }

    /// What differs from the books.
    fn restated(&self, why: &Why) -> Restated {
        let mut first: HashMap<&ContainerId, &Source> = HashMap::new();
        let mut last = first.clone();
        for (movement, source) in self.ledger.movements().iter().zip(&self.sources) {
            first.entry(&movement.container).or_insert(source);
            last.insert(&movement.container, source);
        }
        let cause = |id: &ContainerId, other: &Source| match why {
            Why::Late(source) | Why::Reversed(source) => source.clone(),
            Why::Changed => last.get(id).map_or_else(|| other.clone(), |last| (*last).clone()),
        };
        let mut restated = Restated { rows: Vec::new(), movements: Vec::new() };
        let mut turn = None;
        for container in self.ledger.containers() {
            let Some(kept) = self.ledger.keep(&container.id) else { continue };
            let Some(brought_by) = first.get(&container.id).copied() else { continue };
            let before = self.taken.rows.get(&container.id);
            let mut row = KeptRow {
                kept,
                id: before.map_or_else(|| self.work.new_id(), |row| row.id),
                source_kind: source_word(brought_by).to_owned(),
                movements: before.map_or(0, |row| row.movements),
            };
            // Containers are taken in the order they came: one that came later has a later id.
            if turn.is_some_and(|turn| row.turn() <= turn) {
                row.id = self.work.new_id();
            }
            turn = Some(row.turn());
            let source = cause(&container.id, brought_by);
            restated.note(self.work, before, row, source);
        }
        let mut gone: Vec<&KeptRow> = self.taken.rows.values().collect();
        gone.retain(|row| self.ledger.container(row.name()).is_none());
        gone.sort_by_key(|row| row.id);
        for row in gone {
            let source = cause(row.name(), &replay::source_of(row));
            restated.note(self.work, Some(row), row.clone().into_gone(), source);
        }
        restated
    }
}

impl Restated {
    /// Takes over how a container is now, and the movement to it.
    fn note(&mut self, work: &Work<'_>, before: Option<&KeptRow>, now: KeptRow, source: Source) {
        let (mut row, container) = (now, before.map(|row| &row.kept.container));
        let left = container.map_or(Quantity::ZERO, |container| container.left);
        let change = row.kept.container.left - left;
        let effect = match row.is_gone() {
            true => Effect::None,
            false => effect_of(container, &row.kept.container),
        };
        if !change.is_zero() || effect != Effect::None {
            row.movements += 1;
            self.movements.push(Movement {
                at: work.now,
                kind: MovementKind::Reversed,
                product: row.kept.container.product.clone(),
                container: row.name().clone(),
                change,
                effect,
                source,
                job: None,
                reverses: None,
            });
        }
        if before != Some(&row) {
            self.rows.push(row);
        }
    }
}

/// What else became of a container.
fn effect_of(before: Option<&Container>, now: &Container) -> Effect {
    let was_discarded = before.is_some_and(|before| before.discarded);
    let was_opened = before.and_then(|before| before.opened);
    match now.opened {
        _ if now.discarded && !was_discarded => Effect::Discards,
        _ if was_discarded && !now.discarded => Effect::Restores,
        Some(opened) if was_opened != now.opened => Effect::Opens { seen: opened.seen },
        None if was_opened.is_some() => Effect::Reseals,
        _ => Effect::None,
    }
}
