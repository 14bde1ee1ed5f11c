//! Reading parts of a shop: a row, a page of rows, its containers, its movements.

use std::collections::HashSet;

use capful_domain::facts::Pour;
use capful_domain::{Container, ContainerId, Id, Job, Movement, Shop, Source};
use chrono::NaiveDate;
use sea_orm::sea_query::{Expr, ExprTrait, Func, LikeExpr};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect, Select};
use uuid::Uuid;

use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::sql;
use crate::db::sql::of_job;
use crate::db::store::Store;
use crate::rows::{Containers, KeptRow, Movements, RowMeta, Stored, StoredMovement, source_word};

/// A row and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Versioned<T> {
    /// Where it stands: its id is the cursor of a page, its version what `If-Match` is held
    /// against.
    pub place: RowMeta,
    /// What it says.
    pub row: T,
}

/// A movement that was posted.
#[derive(Debug, Clone, PartialEq)]
pub struct Posted {
    /// The service's id of it.
    pub id: Uuid,
    /// Its number among its container's, from 1.
    pub number: i64,
    /// The movement; what it reverses stands in `reverses`.
    pub movement: Movement,
    /// The movement that it undoes.
    pub reverses: Option<Uuid>,
}

impl From<StoredMovement> for Posted {
    fn from(stored: StoredMovement) -> Self {
        let StoredMovement { movement, id, number, reverses } = stored;
        Self { id, number, movement, reverses }
    }
}

/// Which movements are asked for.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum MovementFilter {
    /// All.
    All,
    /// The one of this id.
    Id(Uuid),
    /// Of these containers.
    Containers(Vec<ContainerId>),
    /// Of a row.
    Source(Source),
    /// For a job.
    Job(Id),
    /// Of a product.
    Product(Id),
}

impl Store {
    /// A shop's settings.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Database`].
    pub async fn shop(&self, shop: Uuid) -> Result<Versioned<Shop>, StoreError> {
        let own = <Shop as Stored>::Table::find().filter(sql::of_shop(shop));
        let row = own.one(&self.readers).await.map_err(failed)?;
        let row = row.ok_or_else(|| sql::not_found::<Shop>(&shop.to_string()))?;
        let (place, row) = Shop::from_row(&row)?;
        Ok(Versioned { place, row })
    }

    /// A row by what it is known by: the shop's own id, or for a ratio `PRODUCT, LABEL`, for an
    /// offer `SUPPLIER, PRODUCT, PACK`, for a row of the usage sheet `JOB TYPE, PRODUCT, RATIO`.
    /// Reversed rows are found too. Not for shops and lines of orders.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Database`].
    pub async fn get<T: Stored>(&self, shop: Uuid, key: &str) -> Result<Versioned<T>, StoreError> {
        let found = match T::HAS_KEY {
            true => sql::find::<T>(&self.readers, shop, key).await?,
            false => None,
        };
        let (place, row) = found.ok_or_else(|| sql::not_found::<T>(key))?;
        Ok(Versioned { place, row })
    }

    /// At most `most` rows in the order they were made, after the one of the id `after`. Reversed
    /// rows are among them.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn page<T: Stored>(
        &self,
        shop: Uuid,
        after: Option<Uuid>,
        most: u64,
    ) -> Result<Vec<Versioned<T>>, StoreError> {
        let mut own = T::Table::find().filter(sql::of_shop(shop));
        if let Some(after) = after {
            own = own.filter(Expr::col("id").gt(after));
        }
        let own = own.order_by_asc(Expr::col("id")).limit(most);
        let rows = own.all(&self.readers).await.map_err(failed)?;
        listed(&rows)
    }

    /// The containers of a shop, or of one product, in the order they came; with `is_live` only
    /// those in which something is left.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] where there is no such shop, [`StoreError::Database`].
    pub async fn containers(
        &self,
        shop: Uuid,
        product: Option<&Id>,
        is_live: bool,
    ) -> Result<Vec<Container>, StoreError> {
        let settings = self.shop(shop).await?.row;
        let mut own = Containers::find().filter(sql::of_shop(shop));
        if let Some(product) = product {
            own = own.filter(Expr::col("product").eq(product.as_str()));
        }
        if is_live {
            own = own.filter(Expr::col("is_live").eq(true));
        }
        let rows = own.order_by_asc(Expr::col("id")).all(&self.readers).await.map_err(failed)?;
        let read = |row| KeptRow::from_row(row, &settings).map(|row| row.kept.container);
        Ok(rows.iter().map(read).collect::<Result<_, _>>()?)
    }

    /// The jobs that are planned from one day up to (not including) another, by their day.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn jobs_between(
        &self,
        shop: Uuid,
        from: NaiveDate,
        to: NaiveDate,
    ) -> Result<Vec<Versioned<Job>>, StoreError> {
        let day = || Expr::col("planned_on");
        let own = <Job as Stored>::Table::find().filter(sql::of_shop(shop));
        let own = own.filter(day().gte(from)).filter(day().lt(to));
        let rows = own.order_by_asc(day()).order_by_asc(Expr::col("id"));
        listed(&rows.all(&self.readers).await.map_err(failed)?)
    }

    /// At most `most` jobs, the one planned last first, `skip` of them passed over; with `vehicle`
    /// only those whose vehicle has this text in it, in large letters or small.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn jobs_back(
        &self,
        shop: Uuid,
        vehicle: Option<&str>,
        skip: u64,
        most: u64,
    ) -> Result<Vec<Versioned<Job>>, StoreError> {
        let mut own = <Job as Stored>::Table::find().filter(sql::of_shop(shop));
        if let Some(text) = vehicle {
            // No text of PostgreSQL has this character, not even one that is only looked for.
            if text.contains('\0') {
                return Ok(Vec::new());
            }
            let text = text.to_lowercase().replace('\\', "\\\\");
            let text = text.replace('%', "\\%").replace('_', "\\_");
            let like = LikeExpr::new(format!("%{text}%")).escape('\\');
            own = own.filter(Expr::expr(Func::lower(Expr::col("vehicle"))).like(like));
        }
        let own = own.order_by_desc(Expr::col("planned_on")).order_by_desc(Expr::col("id"));
        let rows = own.offset(skip).limit(most).all(&self.readers).await.map_err(failed)?;
        listed(&rows)
    }

    /// Products of which a pour for a job stands, whatever the method.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn poured_for(&self, shop: Uuid, job: &Id) -> Result<HashSet<Id>, StoreError> {
        let pours = sql::list::<Pour>(&self.readers, shop, Some(of_job(job))).await?;
        Ok(pours.into_iter().map(|(_, pour)| pour.product).collect())
    }

    /// Movements in the order they were posted.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn movements(
        &self,
        shop: Uuid,
        filter: &MovementFilter,
    ) -> Result<Vec<Posted>, StoreError> {
        self.read_movements(movements(shop, filter)).await
    }

    /// At most `most` of them, after the one of the id `after`.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn movements_page(
        &self,
        shop: Uuid,
        filter: &MovementFilter,
        after: Option<Uuid>,
        most: u64,
    ) -> Result<Vec<Posted>, StoreError> {
        let mut own = movements(shop, filter);
        if let Some(after) = after {
            own = own.filter(Expr::col("id").gt(after));
        }
        self.read_movements(own.limit(most)).await
    }

    async fn read_movements(&self, own: Select<Movements>) -> Result<Vec<Posted>, StoreError> {
        let rows = own.order_by_asc(Expr::col("id")).all(&self.readers).await.map_err(failed)?;
        let read = |row| StoredMovement::from_row(row).map(Posted::from);
        Ok(rows.iter().map(read).collect::<Result<_, _>>()?)
    }
}

/// Rows as they are listed.
fn listed<T: Stored>(rows: &[T::Row]) -> Result<Vec<Versioned<T>>, StoreError> {
    let read = |row| T::from_row(row).map(|(place, row)| Versioned { place, row });
    Ok(rows.iter().map(read).collect::<Result<_, _>>()?)
}

/// The movements that are asked for.
fn movements(shop: Uuid, filter: &MovementFilter) -> Select<Movements> {
    let own = Movements::find().filter(sql::of_shop(shop));
    match filter {
        MovementFilter::All => own,
        MovementFilter::Id(id) => own.filter(Expr::col("id").eq(*id)),
        MovementFilter::Containers(containers) => {
            let names: Vec<&str> = containers.iter().map(ContainerId::as_str).collect();
            own.filter(sql::one_of("container", &names))
        }
        MovementFilter::Source(source) => own
            .filter(Expr::col("source").eq(source.id().as_str()))
            .filter(Expr::col("source_kind").eq(source_word(source))),
        MovementFilter::Job(job) => own.filter(Expr::col("job").eq(job.as_str())),
        MovementFilter::Product(product) => own.filter(Expr::col("product").eq(product.as_str())),
    }
}
