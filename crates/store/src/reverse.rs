//! A row that was a mistake: what it did is undone by new movements, and from then on it is left
//! out of the facts.

use std::collections::{BTreeSet, HashMap};

use capful_domain::facts::{Count, Discard, Mix, Opening, Pour, Receipt};
use capful_domain::{Id, Ledger, Movement, Product, Shop, Source};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};

use crate::books::{self, Taken};
use crate::change::{EventKind, Outcome};
use crate::error::Failure;
use crate::listing::Posted;
use crate::orders::OneRow;
use crate::restate::Why;
use crate::rows::{Containers, Movements, Place, StoredMovement};
use crate::setup::refuse;
use crate::sql;
use crate::store::Work;

impl Work<'_> {
    pub(crate) async fn reverse(&self, kind: EventKind, id: &Id) -> Result<Outcome, Failure> {
        match kind {
            EventKind::Pour => self.reverse_row::<Pour>(Source::Pour(id.clone())).await,
            EventKind::Receipt => self.reverse_row::<Receipt>(Source::Receipt(id.clone())).await,
            EventKind::Opening => self.reverse_row::<Opening>(Source::Opening(id.clone())).await,
            EventKind::Discard => self.reverse_row::<Discard>(Source::Discard(id.clone())).await,
            EventKind::Mix => self.reverse_row::<Mix>(Source::Mix(id.clone())).await,
            EventKind::Count => self.reverse_row::<Count>(Source::Count(id.clone())).await,
        }
    }

    async fn reverse_row<T: OneRow>(&self, source: Source) -> Result<Outcome, Failure> {
        let id = source.id().as_str();
        let (place, row) = sql::hold::<T>(self, id).await?;
        let products = BTreeSet::from([row.as_row().product().clone()]);
        let held = books::hold_products(self, &products).await?;
        let shop = self.the_shop().await?;
        if place.reversed_at.is_some() {
            return refuse(&format!("{} {id} was reversed before: nothing is left of it", T::WHAT));
        }
        let mut outcome = Outcome { written: vec![id.to_owned()], ..Outcome::default() };
        let own = self.movements_of(&source).await?;
        if !own.is_empty() {
            self.undo(&shop, &held, &source, &own, &mut outcome).await?;
        }
        let reversed = Place { reversed_at: Some(self.now), ..place };
        sql::overwrite(self, reversed, &row).await?;
        for product in &held {
            self.restate(&shop, product, &Why::Reversed(source.clone()), &mut outcome).await?;
        }
        Ok(outcome)
    }

    async fn movements_of(&self, source: &Source) -> Result<Vec<StoredMovement>, Failure> {
        let own = Movements::find()
            .filter(sql::of_shop(self.shop))
            .filter(Expr::col("source").eq(source.id().as_str()))
            .filter(Expr::col("source_kind").eq(crate::rows::source_word(source)));
        let rows = own.order_by_asc(Expr::col("id")).all(&self.tx).await?;
        rows.iter().map(|row| Ok(StoredMovement::from_row(row)?)).collect()
    }

    /// Posts what undoes the movements of a row, by the rules of the shelf.
    async fn undo(
        &self,
        shop: &Shop,
        held: &[Product],
        source: &Source,
        own: &[StoredMovement],
        outcome: &mut Outcome,
    ) -> Result<(), Failure> {
        let products = own.iter().map(|own| own.movement.product.clone()).collect();
        let names: BTreeSet<&str> = own.iter().map(|own| own.movement.container.as_str()).collect();
        let names: Vec<&str> = names.into_iter().collect();
        let wanted = sql::one_of("own_id", &names);
        let mut taken = books::take_where(self, shop, wanted, &products).await?;
        let history = self.history(&names).await?;
        taken.left.movements = linked(&history);
        let mut ledger = Ledger::resume(shop, held, taken.left.clone());
        ledger.undo(source, self.now);
        self.write_undone(&taken, &ledger, &history, outcome).await
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

    async fn write_undone(
        &self,
        taken: &Taken,
        ledger: &Ledger,
        history: &[StoredMovement],
        outcome: &mut Outcome,
    ) -> Result<(), Failure> {
        let posted: Vec<Movement> = ledger.movements()[history.len()..].to_vec();
        let containers = books::touched(self, taken, ledger, &posted);
        let models = containers.iter().map(|row| row.to_row(self.shop)).collect();
        sql::put_models::<Containers>(self, models, Some(books::over_the_old())).await?;
        let mut stored = books::numbered(self, taken, posted.clone());
        for new in &mut stored {
            new.reverses = new.movement.reverses.and_then(|at| history.get(at)).map(|old| old.id);
        }
        books::insert_movements(self, &stored).await?;
        outcome.posted.extend(stored.into_iter().map(Posted::from));
        outcome.movements.extend(posted);
        outcome.containers.extend(containers.into_iter().map(|row| row.kept.container));
        Ok(())
    }
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
