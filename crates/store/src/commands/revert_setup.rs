//! Setting back: what was set up is as it was before, or is taken away where it was new.

use std::collections::BTreeSet;

use capful_domain::{Id, Job, JobType, NamedRatio, Offer, Product, SheetRow, Shop, Supplier};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{EntityTrait, QueryFilter, SqlErr};
use serde_json::Value;

use crate::commands::import::IMPORT;
use crate::commands::setup::SERVICE;
use crate::db::error::refuse;
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::work::Work;
use crate::request::change::Effects;
use crate::rows::{RowMeta, Stored, untold};

/// What is to become of a row that stands as it was set up.
enum Back<T> {
    /// It is as it was.
    To(T),
    /// It was new.
    Away(RowMeta, T),
}

impl Work<'_> {
    /// Undoes what was set up, where it still stands so.
    pub(crate) async fn revert_setup(&self, written: &Value) -> Result<Effects, Failure> {
        match written.get("row").and_then(Value::as_str).unwrap_or_default() {
            <Shop as Stored>::WHAT => self.shop_back(written).await,
            <Product as Stored>::WHAT => match self.back::<Product>(written).await? {
                Back::To(row) => self.put_product(&row).await,
                Back::Away(place, row) => {
                    self.nothing_serves_as(&BTreeSet::from([&row.id])).await?;
                    self.take_away(place, &row).await
                }
            },
            <NamedRatio as Stored>::WHAT => match self.back::<NamedRatio>(written).await? {
                Back::To(row) => self.put_ratio(&row).await,
                Back::Away(place, row) => self.take_away(place, &row).await,
            },
            <Supplier as Stored>::WHAT => match self.back::<Supplier>(written).await? {
                Back::To(row) => self.put(&row).await,
                Back::Away(place, row) => self.take_away(place, &row).await,
            },
            <Offer as Stored>::WHAT => match self.back::<Offer>(written).await? {
                Back::To(row) => self.put_offer(&row).await,
                Back::Away(place, row) => self.take_away(place, &row).await,
            },
            <JobType as Stored>::WHAT => match self.back::<JobType>(written).await? {
                Back::To(row) => self.put_job_type(&row).await,
                Back::Away(place, row) => {
                    self.nothing_is_of(&BTreeSet::from([&row.id])).await?;
                    self.take_away(place, &row).await
                }
            },
            <SheetRow as Stored>::WHAT => match self.back::<SheetRow>(written).await? {
                Back::To(row) => self.put_sheet_row(&row).await,
                Back::Away(place, row) => self.take_away(place, &row).await,
            },
            SERVICE => self.service_back(written).await,
            IMPORT => self.import_back(written.get("after").unwrap_or(&Value::Null)).await,
            other => Err(StoreError::Database(format!("nothing is set up as {other:?}")).into()),
        }
    }

    async fn back<T: Stored>(&self, written: &Value) -> Result<Back<T>, Failure> {
        let row = |when| untold::<T>(written.get(when).unwrap_or(&Value::Null));
        let Some(after) = row("after")? else { return changed_since(T::WHAT, "it") };
        let key = after.key();
        match sql::find::<T>(&self.tx, self.shop, &key).await? {
            Some((place, now)) if now == after => Ok(match row("before")? {
                Some(before) => Back::To(before),
                None => Back::Away(place, now),
            }),
            _ => changed_since(T::WHAT, &key),
        }
    }

    async fn shop_back(&self, written: &Value) -> Result<Effects, Failure> {
        let row = |when| untold::<Shop>(written.get(when).unwrap_or(&Value::Null));
        match (row("before")?, row("after")?) {
            (Some(before), Some(after)) if self.the_shop().await? == after => {
                self.put_shop(&before).await
            }
            _ => changed_since(Shop::WHAT, "its settings"),
        }
    }

    async fn service_back(&self, written: &Value) -> Result<Effects, Failure> {
        let (before, before_sheet) = service(written, "before")?;
        let (Some(after), after_sheet) = service(written, "after")? else {
            return changed_since(JobType::WHAT, "it");
        };
        let found = sql::find::<JobType>(&self.tx, self.shop, after.id.as_str()).await?;
        let Some((place, _)) = found.filter(|(_, now)| *now == after) else {
            return changed_since(JobType::WHAT, after.id.as_str());
        };
        if self.sheet_of(&after.id).await? != after_sheet {
            return changed_since(JobType::WHAT, after.id.as_str());
        }
        if let Some(before) = before {
            return self.put_service(&before, &before_sheet).await;
        }
        self.nothing_is_of(&BTreeSet::from([&after.id])).await?;
        self.take_sheet_away(&after.id).await?;
        self.take_away(place, &after).await
    }

    /// Takes away what an import set up, where none of it was changed or is needed since.
    async fn import_back(&self, added: &Value) -> Result<Effects, Failure> {
        let sheet = self.still_new::<SheetRow>(added).await?;
        let job_types = self.still_new::<JobType>(added).await?;
        let offers = self.still_new::<Offer>(added).await?;
        let suppliers = self.still_new::<Supplier>(added).await?;
        let ratios = self.still_new::<NamedRatio>(added).await?;
        let products = self.still_new::<Product>(added).await?;
        self.nothing_is_of(&job_types.iter().map(|(_, row)| &row.id).collect()).await?;
        self.nothing_serves_as(&products.iter().map(|(_, row)| &row.id).collect()).await?;
        let mut outcome = Effects::default();
        self.take_all_away(&sheet, &mut outcome).await?;
        self.take_all_away(&job_types, &mut outcome).await?;
        self.take_all_away(&offers, &mut outcome).await?;
        self.take_all_away(&suppliers, &mut outcome).await?;
        self.take_all_away(&ratios, &mut outcome).await?;
        self.take_all_away(&products, &mut outcome).await?;
        Ok(outcome)
    }

    /// Rows of one kind that an import added, all as they were then.
    async fn still_new<T: Stored>(&self, added: &Value) -> Result<Vec<(RowMeta, T)>, Failure> {
        let keys = added.get(T::WHAT).and_then(Value::as_array).into_iter().flatten();
        let keys: Vec<&str> = keys.filter_map(Value::as_str).collect();
        let mut rows = Vec::with_capacity(keys.len());
        for keys in keys.chunks(sql::MOST_VALUES) {
            let own = sql::one_of("own_id", keys);
            rows.extend(sql::list::<T>(&self.tx, self.shop, Some(own)).await?);
        }
        match rows.iter().find(|(place, _)| place.version > 1) {
            Some((_, row)) => changed_since(T::WHAT, &row.key()),
            None => Ok(rows),
        }
    }

    async fn take_all_away<T: Stored>(
        &self,
        rows: &[(RowMeta, T)],
        outcome: &mut Effects,
    ) -> Result<(), Failure> {
        for (place, row) in rows {
            outcome.written.extend(self.take_away(*place, row).await?.written);
        }
        Ok(())
    }

    /// Takes a row away that no other names; the database holds to that.
    async fn take_away<T: Stored>(&self, place: RowMeta, row: &T) -> Result<Effects, Failure> {
        let own = sql::of_shop(self.shop).and(Expr::col("id").eq(place.id));
        let gone = T::Table::delete_many().filter(own).exec(&self.tx).await;
        match gone.map_err(|error| (error.sql_err(), error)) {
            Err((Some(SqlErr::ForeignKeyConstraintViolation(_)), _)) => {
                refuse(&format!("{} {} is needed by what was written since", T::WHAT, row.key()))
            }
            Err((_, error)) => Err(error.into()),
            Ok(_) => Ok(Effects { written: vec![row.key()], ..Effects::default() }),
        }
    }

    /// No other product has one of these to serve in its place.
    async fn nothing_serves_as(&self, products: &BTreeSet<&Id>) -> Result<(), Failure> {
        for (_, other) in sql::list::<Product>(&self.tx, self.shop, None).await? {
            let named = other.substitutes.iter().find(|id| products.contains(id));
            if let Some(named) = named.filter(|_| !products.contains(&other.id)) {
                return refuse(&format!("product {named} serves in place of {}", other.id));
            }
        }
        Ok(())
    }

    /// No job is of one of these types, and none comes back for one.
    async fn nothing_is_of(&self, types: &BTreeSet<&Id>) -> Result<(), Failure> {
        for id in types {
            let like = Expr::col("job_types").like(format!("%\"{id}\"%"));
            let jobs = sql::list::<Job>(&self.tx, self.shop, Some(like)).await?;
            let own = jobs.iter().find(|(_, job)| job.job_types.contains(id));
            if let Some((_, job)) = own {
                return refuse(&format!("job {} is of job type {id}", job.id));
            }
        }
        for (_, other) in sql::list::<JobType>(&self.tx, self.shop, None).await? {
            let next = other.comes_back.as_ref().and_then(|back| back.job_type.as_ref());
            let named = next.filter(|next| types.contains(next) && !types.contains(&other.id));
            if let Some(named) = named {
                return refuse(&format!("jobs of type {} come back for {named}", other.id));
            }
        }
        Ok(())
    }
}

/// A job type with its usage sheet, as it was kept.
fn service(written: &Value, when: &str) -> Result<(Option<JobType>, Vec<SheetRow>), Failure> {
    let own = written.get(when).unwrap_or(&Value::Null);
    let rows = own.get("sheet").and_then(Value::as_array).into_iter().flatten();
    let rows = rows.filter_map(|row| untold::<SheetRow>(row).transpose());
    let job_type = untold::<JobType>(own.get("job_type").unwrap_or(&Value::Null))?;
    Ok((job_type, rows.collect::<Result<_, _>>()?))
}

fn changed_since<T>(what: &str, key: &str) -> Result<T, Failure> {
    refuse(&format!("{what} {key} was changed since: set it up as it is to be"))
}
