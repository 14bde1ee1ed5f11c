//! The tables, each beside the value of the domain that one of its rows holds.

mod container;
mod count;
mod deed;
mod device;
mod discard;
mod idempotency;
mod job;
mod job_type;
mod mix;
mod movement;
mod offer;
mod opening;
mod order;
mod order_line;
mod person;
mod pour;
mod product;
mod ratio;
mod receipt;
mod session;
mod sheet;
mod shop;
mod sign_in_try;
mod supplier;
mod text;
mod token;

use chrono::{DateTime, Utc};
use sea_orm::{EntityTrait, FromQueryResult, IntoActiveModel, ModelTrait};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use uuid::Uuid;

pub(crate) use container::{Column as ContainerColumn, Entity as Containers, KeptRow};
pub(crate) use deed::{Column as DeedColumn, Entity as Deeds, Model as DeedModel};
pub(crate) use device::{Column as DeviceColumn, Entity as Devices, Model as DeviceModel};
pub(crate) use idempotency::{Entity as Idempotency, Model as IdempotencyModel};
pub(crate) use job::{told as told_job, untold as untold_job};
pub(crate) use movement::{
    Column as MovementColumn, Entity as Movements, StoredMovement, source, source_word,
};
pub(crate) use person::{Column as PersonColumn, Entity as People, Model as PersonModel};
pub(crate) use product::Column as ProductColumn;
pub(crate) use receipt::Column as ReceiptColumn;
pub(crate) use session::{Column as SessionColumn, Entity as Sessions, Model as SessionModel};
pub(crate) use sign_in_try::{Entity as SignInTries, Model as SignInTryModel};
pub(crate) use text::Unreadable;
pub(crate) use token::{Column as TokenColumn, Entity as Tokens, Model as TokenModel};

/// Where a row stands, beside what it says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowMeta {
    /// The shop.
    pub shop: Uuid,
    /// The service's own id, which rises with the time the row was made.
    pub id: Uuid,
    /// How often it was written; what an `If-Match` is held against.
    pub version: i64,
    /// When it was reversed.
    pub reversed_at: Option<DateTime<Utc>>,
}

impl RowMeta {
    /// Of a row that is new.
    pub(crate) const fn new(shop: Uuid, id: Uuid) -> Self {
        Self { shop, id, version: 1, reversed_at: None }
    }
}

/// A value of the domain that has a table.
pub trait Stored: Sized + Clone + PartialEq + Send + Sync + sealed::Sealed {
    /// What it is called.
    const WHAT: &'static str;
    /// Whether it tells of one moment on the shelf, and so may be reversed.
    const IS_EVENT: bool = false;
    /// Whether its rows have names of their own, each once in a shop.
    const HAS_KEY: bool = true;

    #[doc(hidden)]
    type Table: EntityTrait<Model = Self::Row>;
    #[doc(hidden)]
    type Row: ModelTrait<Entity = Self::Table>
        + FromQueryResult
        + Serialize
        + DeserializeOwned
        + IntoActiveModel<<Self::Table as EntityTrait>::ActiveModel>
        + Send
        + Sync;

    /// What it is known by in its shop: the shop's own id, or what it may have only once.
    fn key(&self) -> String;

    #[doc(hidden)]
    fn to_row(&self, place: RowMeta) -> Self::Row;

    #[doc(hidden)]
    fn from_row(row: &Self::Row) -> Result<(RowMeta, Self), Unreadable>;
}

/// A row as it is kept with who wrote it: its columns by their names, wherever it stands.
pub(crate) fn told<T: Stored>(row: Option<&T>) -> Value {
    let nowhere = RowMeta::new(Uuid::nil(), Uuid::nil());
    let row = row.map(|row| serde_json::to_value(row.to_row(nowhere)));
    row.and_then(Result::ok).unwrap_or_default()
}

/// The row that was told; nothing where none was.
pub(crate) fn untold<T: Stored>(value: &Value) -> Result<Option<T>, Unreadable> {
    if value.is_null() {
        return Ok(None);
    }
    let row = serde_json::from_value::<T::Row>(value.clone());
    let row = row.map_err(|_| Unreadable::new("a row", &value.to_string()))?;
    Ok(Some(T::from_row(&row)?.1))
}

mod sealed {
    /// Held by this crate's own rows only.
    pub trait Sealed {}
}

/// An entity of the columns that every table has, and these.
macro_rules! table {
    ($name:literal, { $($column:ident: $kind:ty,)* }) => {
        #[allow(unused_imports)] // what the derives below speak of
        use sea_orm::entity::prelude::*;

        /// A row of the table.
        #[derive(Clone, Debug, PartialEq, DeriveEntityModel, serde::Serialize, serde::Deserialize)]
        #[sea_orm(table_name = $name)]
        pub struct Model {
            #[sea_orm(primary_key, auto_increment = false)]
            pub shop_id: uuid::Uuid,
            #[sea_orm(primary_key, auto_increment = false)]
            pub id: uuid::Uuid,
            $(pub $column: $kind,)*
        }

        /// No row is reached by way of another.
        #[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
        pub enum Relation {}

        impl ActiveModelBehavior for ActiveModel {}
    };
}
use table;
