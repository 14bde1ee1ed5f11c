//! All rows of the shelf that stand, in the order of time, and what they come to.

use std::collections::{BTreeMap, HashMap, HashSet};

use capful_domain::facts::{Count, Discard, Mix, Opening, Pour, Receipt};
use capful_domain::{
    Container, ContainerId, ExpectedPour, Facts, Id, Job, Ledger, Left, Movement, MovementKind,
    Product, Quantity, Ratio, SheetRow, Shop, Source,
};
use sea_orm::sea_query::{Expr, ExprTrait, SimpleExpr};
use sea_orm::{ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};
use uuid::Uuid;

use crate::books::posting::Taken;
use crate::books::shelf::ShelfRow;
use crate::db::error::Failure;
use crate::db::sql;
use crate::db::work::Work;
use crate::rows::{KeptRow, Movements, Stored, StoredMovement, source};

/// The rows of the shelf; lists of other things are empty where they are of one product.
pub(crate) struct Rows {
    facts: Facts,
    expected: Vec<ExpectedPour>,
}

impl Rows {
    /// The standing rows of a product.
    pub(crate) async fn of_product(
        work: &Work<'_>,
        shop: &Shop,
        product: &Product,
        taken: &Taken,
    ) -> Result<Self, Failure> {
        async fn list<T: Stored>(work: &Work<'_>, id: &Id) -> Result<Vec<T>, Failure> {
            let own = of_product(id).and(Expr::col("reversed_at").is_null());
            let rows = sql::list::<T>(&work.tx, work.shop, Some(own)).await?;
            Ok(rows.into_iter().map(|(_, row)| row).collect())
        }
        let id = &product.id;
        let mut facts = Facts {
            receipts: list::<Receipt>(work, id).await?,
            discards: list::<Discard>(work, id).await?,
            openings: list::<Opening>(work, id).await?,
            mixes: list::<Mix>(work, id).await?,
            pours: list::<Pour>(work, id).await?,
            counts: list::<Count>(work, id).await?,
            ..Facts::new(shop.clone())
        };
        let deducted = deducted(&work.tx, work.shop, Some(of_product(id))).await?;
        if !deducted.is_empty() {
            let own = Some(of_product(id));
            let sheet = sql::list::<SheetRow>(&work.tx, work.shop, own).await?;
            facts.usage_sheet = sheet.into_iter().map(|(_, row)| row).collect();
            let jobs = sql::list::<Job>(&work.tx, work.shop, None).await?;
            facts.jobs = jobs.into_iter().map(|(_, job)| job).collect();
        }
        let containers = taken.rows.values().map(|row| &row.kept.container);
        let expected = expected(&facts, &deducted, containers);
        Ok(Self { facts, expected })
    }

    /// In the order of time, as a snapshot has them.
    pub(crate) fn in_order(&self) -> Vec<ShelfRow<'_>> {
        in_order(&self.facts, &self.expected)
    }
}

fn of_product(id: &Id) -> SimpleExpr {
    Expr::col("product").eq(id.as_str())
}

/// Rows in the order of time, as a snapshot has them.
fn in_order<'r>(facts: &'r Facts, expected: &'r [ExpectedPour]) -> Vec<ShelfRow<'r>> {
    let mut rows: Vec<ShelfRow<'r>> = Vec::new();
    rows.extend(facts.receipts.iter().map(ShelfRow::Receipt));
    rows.extend(facts.discards.iter().map(ShelfRow::Discard));
    rows.extend(facts.openings.iter().map(ShelfRow::Opening));
    rows.extend(facts.mixes.iter().map(ShelfRow::Mix));
    rows.extend(facts.pours.iter().map(ShelfRow::Pour));
    rows.extend(facts.counts.iter().map(ShelfRow::Count));
    rows.extend(expected.iter().map(ShelfRow::Expected));
    rows.sort_by_key(|row| (row.at(), row.turn()));
    rows
}

/// What all rows of a shop come to.
#[derive(Default)]
pub(crate) struct Replay {
    pub containers: HashMap<ContainerId, Container>,
    /// In the order of time.
    pub movements: Vec<Movement>,
}

/// Posts all rows of a shop again, product by product, beside the containers that it has.
pub(crate) fn replay(facts: &Facts, deducted: &[StoredMovement], books: &[KeptRow]) -> Replay {
    let expected = expected(facts, deducted, books.iter().map(|row| &row.kept.container));
    let mut by_product: BTreeMap<&Id, Vec<ShelfRow<'_>>> = BTreeMap::new();
    let rows = in_order(facts, &expected);
    for row in &rows {
        by_product.entry(row.product()).or_default().push(*row);
    }
    let mut replayed = Replay::default();
    for product in &facts.products {
        let others = books.iter().filter(|row| row.kept.container.product != product.id);
        let taken: HashSet<ContainerId> = others.map(|row| row.name().clone()).collect();
        let left = Left { taken, ..Left::default() };
        let mut ledger = Ledger::resume(&facts.shop, [product], left);
        for row in by_product.remove(&product.id).unwrap_or_default() {
            row.post(&mut ledger);
        }
        let containers = ledger.containers().iter();
        replayed.containers.extend(containers.map(|c| (c.id.clone(), c.clone())));
        replayed.movements.extend_from_slice(ledger.movements());
    }
    replayed.movements.sort_by_key(|movement| movement.at);
    replayed
}

/// Movements of what jobs were taken to have used, where no row says so; those that stand.
pub(crate) async fn deducted(
    connection: &impl ConnectionTrait,
    shop: Uuid,
    condition: Option<SimpleExpr>,
) -> Result<Vec<StoredMovement>, Failure> {
    // As the index has it, so that it is found by it.
    let mut own = Movements::find()
        .filter(sql::of_shop(shop))
        .filter(Expr::cust("\"source_kind\" = 'expected'"));
    if let Some(condition) = condition {
        own = own.filter(condition);
    }
    let rows = own.order_by_asc(Expr::col("id")).all(connection).await?;
    let all: Result<Vec<_>, _> = rows.iter().map(StoredMovement::from_row).collect();
    let mut all = all?;
    let undone: HashSet<Uuid> = all.iter().filter_map(|stored| stored.reverses).collect();
    all.retain(|stored| stored.reverses.is_none() && !undone.contains(&stored.id));
    Ok(all)
}

/// What jobs were taken to have used, as their movements say. At which ratio it was used is not in
/// them: of a mix at its own, else as the usage sheet has it.
fn expected<'c>(
    facts: &Facts,
    deducted: &[StoredMovement],
    containers: impl Iterator<Item = &'c Container>,
) -> Vec<ExpectedPour> {
    if deducted.is_empty() {
        return Vec::new();
    }
    let mixes: HashMap<&ContainerId, Ratio> =
        containers.filter_map(|c| c.mix.map(|ratio| (&c.id, ratio))).collect();
    let jobs: HashMap<&Id, &Job> = facts.jobs.iter().map(|job| (&job.id, job)).collect();
    let mut pours: Vec<ExpectedPour> = Vec::new();
    let mut places: HashMap<(&Id, &Id, Ratio), usize> = HashMap::new();
    for stored in deducted {
        let movement = &stored.movement;
        if movement.kind != MovementKind::Poured {
            continue;
        }
        let (job, product) = (movement.source.id(), &movement.product);
        let of_sheet = || ratio_of(facts, jobs.get(job).copied(), product);
        let ratio = mixes.get(&movement.container).copied().unwrap_or_else(of_sheet);
        let place = *places.entry((job, product, ratio)).or_insert_with(|| {
            let (job, product) = (job.clone(), product.clone());
            let (at, quantity) = (movement.at, Quantity::ZERO);
            pours.push(ExpectedPour { at, job, product, quantity, ratio });
            pours.len() - 1
        });
        pours[place].quantity -= movement.change;
    }
    pours
}

fn ratio_of(facts: &Facts, job: Option<&Job>, product: &Id) -> Ratio {
    let Some(job) = job else { return Ratio::NEAT };
    let own = |row: &&SheetRow| row.product == *product && job.job_types.contains(&row.job_type);
    let row = facts.usage_sheet.iter().find(own);
    row.and_then(|row| row.ratio).unwrap_or(Ratio::NEAT)
}

/// The row that brought a container.
pub(crate) fn source_of(row: &KeptRow) -> Source {
    let id = row.kept.container.lot.source.clone();
    source(&row.source_kind, id.clone()).unwrap_or(Source::Receipt(id))
}
