//! Setting up: what a shop is, buys, sells and expects, each row new or as it is from now on.

use capful_domain::facts::Receipt;
use capful_domain::{
    Amount, Id, JobType, NamedRatio, Offer, Product, SheetRow, Shop, Supplier, Unit,
};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{EntityTrait, QueryFilter};
use serde_json::{Value, json};

use crate::db::error::refuse;
use crate::db::error::{Failure, StoreError};
use crate::db::sql;
use crate::db::work::Work;
use crate::request::change::{Change, Edited, Effects};
use crate::rows::{self, Containers, ReceiptColumn, RowMeta, Stored};

/// What a job type with its usage sheet is called among what was edited.
pub(crate) const SERVICE: &str = "service";

impl Work<'_> {
    /// Does one thing.
    pub(crate) async fn apply(&self, change: &Change) -> Result<Effects, Failure> {
        match change {
            Change::Shop(shop) => self.put_shop(shop).await,
            Change::Product(product) => self.put_product(product).await,
            Change::Ratio(ratio) => self.put_ratio(ratio).await,
            Change::Supplier(supplier) => self.put(supplier).await,
            Change::Offer(offer) => self.put_offer(offer).await,
            Change::JobType(job_type) => self.put_job_type(job_type).await,
            Change::Service(job_type, sheet) => self.put_service(job_type, sheet).await,
            Change::SheetRow(row) => self.put_sheet_row(row).await,
            Change::Book(job) => self.book(job).await,
            Change::ChangeJob(job) => self.change_job(job).await,
            Change::StartJob { job, at } => self.start_job(job, *at).await,
            Change::CancelJob { job, at } => self.cancel_job(job, *at).await,
            Change::FinishJob(finish) => self.finish_job(finish).await,
            Change::Pour(pours) => self.pour(pours).await,
            Change::Open(opening) => self.shelf_row(opening).await,
            Change::Mix(mix) => self.shelf_row(mix).await,
            Change::Discard(discard) => self.shelf_row(discard).await,
            Change::Count(count) => self.shelf_row(count).await,
            Change::Receive(receipts) => self.receive(receipts).await,
            Change::ReceiveLast { receipts, order } => self.receive_last(receipts, order).await,
            Change::PlaceOrder(order, lines) => self.place_order(order, lines).await,
            Change::SetOrder { order, status } => self.set_order(order, *status).await,
            Change::Reverse { kind, id } => self.reverse(*kind, id).await,
            Change::Undo { deed } => self.undo_deed(*deed).await,
            Change::Import { facts, expected } => self.import(facts, expected).await,
        }
    }

    /// The shop's settings, where there is such a shop.
    pub(crate) async fn find_shop(&self) -> Result<Option<(RowMeta, Shop)>, Failure> {
        let own = <Shop as Stored>::Table::find().filter(sql::of_shop(self.shop));
        match own.one(&self.tx).await? {
            Some(row) => Ok(Some(Shop::from_row(&row)?)),
            None => Ok(None),
        }
    }

    /// The shop's settings.
    pub(crate) async fn the_shop(&self) -> Result<Shop, Failure> {
        let shop = self.find_shop().await?.map(|(_, shop)| shop);
        Ok(shop.ok_or_else(|| sql::not_found::<Shop>(&self.shop.to_string()))?)
    }

    pub(crate) async fn put_shop(&self, shop: &Shop) -> Result<Effects, Failure> {
        let before = self.find_shop().await?;
        if let Some((_, old)) = &before
            && old.currency != shop.currency
        {
            return refuse(&format!("currency: it stays {}, its prices are in it", old.currency));
        }
        let outcome = self.write_over(shop, before.as_ref()).await?;
        match before {
            Some((_, old)) if old.timezone != shop.timezone => self.restate_all(outcome).await,
            _ => Ok(outcome),
        }
    }

    pub(crate) async fn put_product(&self, product: &Product) -> Result<Effects, Failure> {
        for substitute in &product.substitutes {
            if *substitute != product.id {
                self.must_be_there::<Product>(substitute).await?;
            }
        }
        if product.size().is_zero() {
            let fits = "a unit of the same kind as the product's";
            return refuse(&format!("container_size: more than nothing, in {fits}"));
        }
        let before = sql::find::<Product>(&self.tx, self.shop, product.id.as_str()).await?;
        let outcome = async || self.write_over(product, before.as_ref()).await;
        let Some((_, old)) = &before else { return outcome().await };
        if old.unit != product.unit {
            self.may_be_measured_in(old, product.unit).await?;
        }
        let outcome = outcome().await?;
        if old.size() != product.size() {
            self.keep_size(old).await?;
        }
        self.restate_changed(old, product, outcome).await
    }

    /// Receipts say what a container holds in the product's unit: once something came in, that
    /// unit stays.
    async fn may_be_measured_in(&self, old: &Product, unit: Unit) -> Result<(), Failure> {
        let on_shelf = Containers::find()
            .filter(sql::of_shop(self.shop))
            .filter(Expr::col("product").eq(old.id.as_str()));
        if on_shelf.one(&self.tx).await?.is_some() {
            let text =
                "as its receipts say what a container holds; another unit is another product";
            return refuse(&format!("unit: {}, {text}", old.unit));
        }
        if unit.dimension() != old.unit.dimension() {
            let kinds = Unit::ALL.iter().filter(|unit| unit.dimension() == old.unit.dimension());
            let kinds: Vec<&str> = kinds.map(|unit| unit.symbol()).collect();
            return refuse(&format!("unit: one of {}, as its books are kept", kinds.join(", ")));
        }
        Ok(())
    }

    /// What came in until now came in the size that was bought then: receipts that left it to the
    /// product say so from now on, reversed ones too, as the books of days before need them.
    async fn keep_size(&self, old: &Product) -> Result<(), Failure> {
        let size = match old.container_size {
            Amount { number, unit } if unit == old.unit => number,
            _ => old.size().in_unit(old.unit),
        };
        let unsaid = <Receipt as Stored>::Table::update_many()
            .col_expr(ReceiptColumn::ContainerSize, Expr::value(size.to_string()))
            .filter(sql::of_shop(self.shop))
            .filter(Expr::col("product").eq(old.id.as_str()))
            .filter(Expr::col("container_size").is_null());
        unsaid.exec(&self.tx).await?;
        Ok(())
    }

    pub(crate) async fn put_ratio(&self, ratio: &NamedRatio) -> Result<Effects, Failure> {
        self.must_be_there::<Product>(&ratio.product).await?;
        self.put(ratio).await
    }

    pub(crate) async fn put_offer(&self, offer: &Offer) -> Result<Effects, Failure> {
        self.must_be_there::<Supplier>(&offer.supplier).await?;
        self.must_be_there::<Product>(&offer.product).await?;
        self.put(offer).await
    }

    pub(crate) async fn put_job_type(&self, job_type: &JobType) -> Result<Effects, Failure> {
        let next = job_type.comes_back.as_ref().and_then(|back| back.job_type.as_ref());
        if let Some(next) = next.filter(|next| **next != job_type.id) {
            self.must_be_there::<JobType>(next).await?;
        }
        self.put(job_type).await
    }

    pub(crate) async fn put_service(
        &self,
        job_type: &JobType,
        sheet: &[SheetRow],
    ) -> Result<Effects, Failure> {
        let before = sql::find::<JobType>(&self.tx, self.shop, job_type.id.as_str()).await?;
        let mut outcome = self.put_job_type(job_type).await?;
        for (index, row) in sheet.iter().enumerate() {
            if row.job_type != job_type.id {
                return refuse(&format!("job_type: {}, in every row of its sheet", job_type.id));
            }
            if sheet[..index].iter().any(|other| other.key() == row.key()) {
                let what = "usage_sheet: each product at each ratio once";
                return refuse(&format!("{what}, not `{}` twice", row.key()));
            }
            self.check_sheet_row(row).await?;
        }
        let old = self.sheet_of(&job_type.id).await?;
        outcome.edited = Some(Edited {
            row: SERVICE,
            before: told_service(before.as_ref().map(|(_, row)| row), &old),
            after: told_service(Some(job_type), sheet),
        });
        if old != sheet {
            self.take_sheet_away(&job_type.id).await?;
            sql::insert(self, sheet).await?;
        }
        Ok(outcome)
    }

    /// The usage sheet of a job type.
    pub(crate) async fn sheet_of(&self, job_type: &Id) -> Result<Vec<SheetRow>, Failure> {
        let own = Expr::col("job_type").eq(job_type.as_str());
        let rows = sql::list::<SheetRow>(&self.tx, self.shop, Some(own)).await?;
        Ok(rows.into_iter().map(|(_, row)| row).collect())
    }

    pub(crate) async fn take_sheet_away(&self, job_type: &Id) -> Result<(), Failure> {
        let own = sql::of_shop(self.shop).and(Expr::col("job_type").eq(job_type.as_str()));
        <SheetRow as Stored>::Table::delete_many().filter(own).exec(&self.tx).await?;
        Ok(())
    }

    pub(crate) async fn put_sheet_row(&self, row: &SheetRow) -> Result<Effects, Failure> {
        sql::get::<JobType>(self, row.job_type.as_str()).await?;
        self.check_sheet_row(row).await?;
        self.put(row).await
    }

    async fn check_sheet_row(&self, row: &SheetRow) -> Result<(), Failure> {
        let product = self.must_be_there::<Product>(&row.product).await?;
        match row.quantity(&product) {
            Ok(_) => Ok(()),
            Err(wrong) => refuse(&format!("quantity of {}: {wrong}", product.id)),
        }
    }

    /// A row that another names.
    pub(crate) async fn must_be_there<T: Stored>(&self, id: &Id) -> Result<T, Failure> {
        let found = sql::find::<T>(&self.tx, self.shop, id.as_str()).await?;
        Ok(found.map(|(_, row)| row).ok_or_else(|| sql::not_found::<T>(id.as_str()))?)
    }

    pub(crate) async fn put<T: Stored>(&self, row: &T) -> Result<Effects, Failure> {
        let before = sql::find::<T>(&self.tx, self.shop, &row.key()).await?;
        self.write_over(row, before.as_ref()).await
    }

    /// Writes a row where it stands already, or as a new one.
    async fn write_over<T: Stored>(
        &self,
        row: &T,
        before: Option<&(RowMeta, T)>,
    ) -> Result<Effects, Failure> {
        self.must_match::<T>(&row.key(), before.map_or(0, |(place, _)| place.version))?;
        let version = match before {
            Some((place, _)) => sql::overwrite(self, *place, row).await?,
            None => {
                sql::insert(self, std::slice::from_ref(row)).await?;
                1
            }
        };
        Ok(Effects {
            written: vec![row.key()],
            version: Some(version),
            is_new: before.is_none(),
            edited: Some(Edited {
                row: T::WHAT,
                before: rows::told(before.map(|(_, row)| row)),
                after: rows::told(Some(row)),
            }),
            ..Effects::default()
        })
    }

    /// Refuses what was meant for another version.
    pub(crate) fn must_match<T: Stored>(&self, key: &str, version: i64) -> Result<(), Failure> {
        if self.if_match.is_none_or(|expected| expected == version) {
            return Ok(());
        }
        Err(StoreError::Stale { what: T::WHAT, id: key.to_owned(), version }.into())
    }
}

/// A job type with its usage sheet, as it is kept with who set it up.
fn told_service(job_type: Option<&JobType>, sheet: &[SheetRow]) -> Value {
    let sheet: Vec<Value> = sheet.iter().map(|row| rows::told(Some(row))).collect();
    json!({ "job_type": rows::told(job_type), "sheet": sheet })
}
