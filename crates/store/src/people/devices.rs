//! Devices: browsers in which somebody signed in with the right password before. Whoever tries with
//! one of them is not kept waiting for what others try with the same name.

use chrono::{DateTime, Utc};
use sea_orm::sea_query::{Expr, ExprTrait};
use sea_orm::{DatabaseTransaction, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder};
use uuid::Uuid;

use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::moments;
use crate::db::sql;
use crate::db::store::Store;
use crate::people::tokens::token_hash;
use crate::rows::{DeviceColumn, DeviceModel, Devices};

/// Devices of one person that are known again; the one that was seen longest ago is forgotten.
const MOST: usize = 20;

/// A browser that is known again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Device {
    /// What its tries are counted by.
    pub id: Uuid,
    /// Whose it is.
    pub person: Uuid,
}

impl Store {
    /// The device that holds a text.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn device(&self, text: &str) -> Result<Option<Device>, StoreError> {
        let own = Devices::find().filter(Expr::col("hash").eq(token_hash(text)));
        let row = own.one(&self.readers).await.map_err(failed)?;
        Ok(row.map(|row| Device { id: row.id, person: row.person }))
    }

    /// Knows a browser again from now on, which holds this text: long, and drawn at random.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn add_device(
        &self,
        shop: Uuid,
        person: Uuid,
        text: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let (id, hash) = (self.new_uuid(now), token_hash(text));
        let row = DeviceModel { shop_id: shop, id, person, hash, seen_at: moments::kept(now) };
        let tx = self.begin(shop).await.map_err(failed)?;
        let own = Devices::find().filter(of_person(shop, person));
        let own = own.order_by_desc(Expr::col("seen_at")).order_by_desc(Expr::col("id"));
        let there = own.all(&tx).await.map_err(failed)?;
        let old: Vec<Uuid> = there.iter().skip(MOST - 1).map(|row| row.id).collect();
        let forget = Devices::delete_many().filter(of_person(shop, person));
        forget.filter(sql::one_of("id", &old)).exec(&tx).await.map_err(failed)?;
        let insert = Devices::insert(row.into_active_model());
        insert.exec_without_returning(&tx).await.map_err(failed)?;
        tx.commit().await.map_err(failed)
    }

    /// Notes that somebody signed in with a device now.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn see_device(
        &self,
        shop: Uuid,
        id: Uuid,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let see = Devices::update_many()
            .col_expr(DeviceColumn::SeenAt, Expr::value(moments::kept(now)))
            .filter(sql::of_shop(shop))
            .filter(Expr::col("id").eq(id));
        see.exec(&self.writer).await.map_err(failed)?;
        Ok(())
    }

    /// Forgets the devices that nobody signed in with since `before`; gives how many.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn forget_devices(&self, before: DateTime<Utc>) -> Result<u64, StoreError> {
        let old = Devices::delete_many().filter(Expr::col("seen_at").lt(before));
        Ok(old.exec(&self.writer).await.map_err(failed)?.rows_affected)
    }
}

fn of_person(shop: Uuid, person: Uuid) -> sea_orm::sea_query::SimpleExpr {
    sql::of_shop(shop).and(Expr::col("person").eq(person))
}

/// Forgets every device of a person.
pub(crate) async fn forget_all(
    tx: &DatabaseTransaction,
    shop: Uuid,
    person: Uuid,
) -> Result<(), StoreError> {
    let own = Devices::delete_many().filter(of_person(shop, person));
    own.exec(tx).await.map_err(failed)?;
    Ok(())
}
