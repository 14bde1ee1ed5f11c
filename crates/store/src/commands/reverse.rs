//! A row that was a mistake: what it did is undone by new movements, and from then on it is left
//! out of the facts.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use capful_domain::facts::{Count, Discard, Method, Mix, Opening, Pour, Receipt};
use capful_domain::{Amount, Id, Job, JobStatus, Ledger, Movement, Product, Source};
use rust_decimal::Decimal;
use sea_orm::sea_query::{Expr, ExprTrait, SimpleExpr};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};

use crate::books::posting::{self, Taken};
use crate::books::rebuild::{OutOfOrder, Why};
use crate::books::shelf::ShelfRow;
use crate::commands::orders::OneRow;
use crate::db::error::Failure;
use crate::db::error::refuse;
use crate::db::sql;
use crate::db::work::Work;
use crate::request::change::{Effects, EventKind};
use crate::rows::{Movements, RowMeta, StoredMovement};

impl Work<'_> {
    pub(crate) async fn reverse(&self, kind: EventKind, id: &Id) -> Result<Effects, Failure> {
        match kind {
            EventKind::Pour => self.reverse_row::<Pour>(Source::Pour(id.clone())).await,
            EventKind::Receipt => self.reverse_row::<Receipt>(Source::Receipt(id.clone())).await,
            EventKind::Opening => self.reverse_row::<Opening>(Source::Opening(id.clone())).await,
            EventKind::Discard => self.reverse_row::<Discard>(Source::Discard(id.clone())).await,
            EventKind::Mix => self.reverse_row::<Mix>(Source::Mix(id.clone())).await,
            EventKind::Count => self.reverse_row::<Count>(Source::Count(id.clone())).await,
        }
    }

    async fn reverse_row<T: OneRow>(&self, source: Source) -> Result<Effects, Failure> {
        let id = source.id().as_str();
        let found = sql::find::<T>(&self.tx, self.shop, id).await?;
        let (_, row) = found.ok_or_else(|| sql::not_found::<T>(id))?;
        // The product first, as whoever posts to it does: from here on nothing is added to what
        // the row brought, and it names one product for ever.
        let products = BTreeSet::from([row.as_row().product().clone()]);
        let involved = posting::the_products(self, &products).await?;
        let (place, row) = sql::get::<T>(self, id).await?;
        if place.reversed_at.is_some() {
            return refuse(&format!("{} {id} was reversed before: nothing is left of it", T::WHAT));
        }
        let mut outcome = Effects { written: vec![id.to_owned()], ..Effects::default() };
        let own = self.movements_of(&source).await?;
        if !own.is_empty() {
            let undoing = self.prepare(&involved, &own).await?;
            self.undo(undoing, std::slice::from_ref(&source), &mut outcome).await?;
        }
        let reversed = RowMeta { reversed_at: Some(self.now), ..place };
        sql::overwrite(self, reversed, &row).await?;
        if let ShelfRow::Pour(pour) = row.as_row() {
            self.keep_deducted(pour).await?;
        }
        let shop = self.the_shop().await?;
        let why = Why::Reversed(source);
        for product in &involved {
            self.rebuild(&shop, product, &why, &mut outcome).await?;
        }
        Ok(outcome)
    }

    /// A done job for which nothing stands is taken to have used what is expected. Where what it
    /// was taken to have used is reversed, it took none, and a pour of none says so.
    async fn keep_deducted(&self, pour: &Pour) -> Result<(), Failure> {
        let (Some(Method::Expected), Some(job)) = (pour.method, &pour.job) else { return Ok(()) };
        let job = self.must_be_there::<Job>(job).await?;
        let Some(id) = self.store.new_id(self.now) else { return Ok(()) };
        if job.status != JobStatus::Done {
            return Ok(());
        }
        let amount = Amount { number: Decimal::ZERO, ..pour.amount };
        let none = Pour { id, amount, container: None, ..pour.clone() };
        sql::insert(self, &[none]).await?;
        Ok(())
    }

    /// Pours for jobs that came with a history and were deducted there as expected, without a row:
    /// what is poured now is what they took, so what they were taken to have used is undone. Once
    /// one expected pour is written down, nothing is expected of its job any more. Gives the
    /// products that have to be restated once the pours are written.
    pub(crate) async fn undo_expected(
        &self,
        pours: &[&Pour],
        outcome: &mut Effects,
    ) -> Result<OutOfOrder, Failure> {
        let mut late = OutOfOrder::new();
        let mut poured: BTreeSet<(&Id, Option<&Id>)> = BTreeSet::new();
        for pour in pours {
            let Some(job) = &pour.job else { continue };
            let is_expected = pour.method == Some(Method::Expected);
            poured.insert((job, Some(&pour.product).filter(|_| !is_expected)));
        }
        let jobs: BTreeSet<&str> = poured.iter().map(|(job, _)| job.as_str()).collect();
        let jobs: Vec<&str> = jobs.into_iter().collect();
        let mut by_product: BTreeMap<Id, Vec<StoredMovement>> = BTreeMap::new();
        for jobs in jobs.chunks(sql::MOST_VALUES) {
            let own = sql::one_of("source", jobs).and(Expr::col("source_kind").eq("expected"));
            for own in self.movements_where(own).await? {
                let (job, product) = (own.movement.source.id(), &own.movement.product);
                if poured.contains(&(job, None)) || poured.contains(&(job, Some(product))) {
                    by_product.entry(product.clone()).or_default().push(own);
                }
            }
        }
        if by_product.is_empty() {
            return Ok(late);
        }
        // With those that are poured to.
        let poured = pours.iter().map(|pour| pour.product.clone());
        let products = by_product.keys().cloned().chain(poured).collect();
        let involved = posting::the_products(self, &products).await?;
        for (product, own) in by_product {
            let of_job = |pour: &&&Pour| {
                own.iter().any(|own| pour.job.as_ref() == Some(own.movement.source.id()))
            };
            if let Some(pour) = pours.iter().find(of_job) {
                late.insert(product, Source::Pour(pour.id.clone()));
            }
            let sources: BTreeSet<&Source> = own.iter().map(|own| &own.movement.source).collect();
            let sources: Vec<Source> = sources.into_iter().cloned().collect();
            let undoing = self.prepare(&involved, &own).await?;
            self.undo(undoing, &sources, outcome).await?;
        }
        Ok(late)
    }

    async fn movements_of(&self, source: &Source) -> Result<Vec<StoredMovement>, Failure> {
        let own = Expr::col("source").eq(source.id().as_str());
        let own = own.and(Expr::col("source_kind").eq(crate::rows::source_word(source)));
        self.movements_where(own).await
    }

    async fn movements_where(&self, wanted: SimpleExpr) -> Result<Vec<StoredMovement>, Failure> {
        let own = Movements::find().filter(sql::of_shop(self.shop)).filter(wanted);
        let rows = own.order_by_asc(Expr::col("id")).all(&self.tx).await?;
        rows.iter().map(|row| Ok(StoredMovement::from_row(row)?)).collect()
    }

    /// Takes up the books of the containers that some movements touched.
    async fn prepare(
        &self,
        involved: &[Product],
        own: &[StoredMovement],
    ) -> Result<Undoing, Failure> {
        let shop = self.the_shop().await?;
        let products = own.iter().map(|own| own.movement.product.clone()).collect();
        let names: BTreeSet<&str> = own.iter().map(|own| own.movement.container.as_str()).collect();
        let names: Vec<&str> = names.into_iter().collect();
        let (mut taken, mut history) = (Taken::default(), Vec::new());
        for names in names.chunks(sql::MOST_VALUES) {
            let wanted = sql::one_of("own_id", names);
            let more = posting::take_where(self, &shop, wanted, &products).await?;
            taken.rows.extend(more.rows);
            taken.left.containers.extend(more.left.containers);
            taken.left.taken.extend(more.left.taken);
            history.extend(self.history(names).await?);
        }
        taken.left.movements = linked(&history);
        let ledger = Ledger::resume(&shop, involved, taken.left.clone());
        Ok(Undoing { taken, ledger, history })
    }

    /// Posts what undoes the movements of rows that still stand, whatever that leaves: the product
    /// is restated then.
    async fn undo(
        &self,
        mut undoing: Undoing,
        sources: &[Source],
        outcome: &mut Effects,
    ) -> Result<(), Failure> {
        for source in sources {
            undoing.ledger.undo(source, self.now);
        }
        let Undoing { taken, ledger, history } = &undoing;
        let posted = ledger.movements()[history.len()..].to_vec();
        let undoes = |new: &Movement| new.reverses.and_then(|at| history.get(at)).map(|old| old.id);
        posting::write_posted(self, taken, ledger, posted, undoes, outcome).await
    }

    /// Every movement of some containers, each container's in their order.
    async fn history(&self, containers: &[&str]) -> Result<Vec<StoredMovement>, Failure> {
        let own = Movements::find()
            .filter(sql::of_shop(self.shop))
            .filter(sql::one_of("container", containers))
            .order_by_asc(Expr::col("container"))
            .order_by_asc(Expr::col("number"));
        let rows = own.all(&self.tx).await?;
        rows.iter().map(|row| Ok(StoredMovement::from_row(row)?)).collect()
    }
}

/// Books that are taken up to undo something in them.
struct Undoing {
    taken: Taken,
    ledger: Ledger,
    /// What stands in the ledger already.
    history: Vec<StoredMovement>,
}

/// Movements that name what they undo by its place in the list.
fn linked(history: &[StoredMovement]) -> Vec<Movement> {
    let places: HashMap<_, _> =
        history.iter().enumerate().map(|(place, stored)| (stored.id, place)).collect();
    let link = |stored: &StoredMovement| Movement {
        reverses: stored.reverses.and_then(|id| places.get(&id).copied()),
        ..stored.movement.clone()
    };
    history.iter().map(link).collect()
}
