//! A body that is one row, or a list of them.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer};
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use utoipa::openapi::schema::{ArrayBuilder, OneOfBuilder};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

use super::Reader;

/// One row, or a list of them that is written down whole or not at all.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum OneOrMany<T> {
    One(T),
    Many(Vec<T>),
}

impl<T> OneOrMany<T> {
    /// Reads each of them; `None` where one is wrong.
    pub(crate) fn read<U>(
        &self,
        reader: &mut Reader<'_>,
        read: impl Fn(&T, &mut Reader<'_>) -> Option<U>,
    ) -> Option<Vec<U>> {
        match self {
            Self::One(row) => read(row, reader).map(|row| vec![row]),
            Self::Many(rows) => {
                if rows.is_empty() {
                    reader.wrong("", "", "at least one row");
                }
                reader.each("", rows, |reader, row| read(row, reader))
            }
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for OneOrMany<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(Rows(PhantomData))
    }
}

struct Rows<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for Rows<T> {
    type Value = OneOrMany<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("one row as an object, or a list of them")
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
        T::deserialize(MapAccessDeserializer::new(map)).map(OneOrMany::One)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, rows: A) -> Result<Self::Value, A::Error> {
        Vec::deserialize(SeqAccessDeserializer::new(rows)).map(OneOrMany::Many)
    }
}

impl<T: ToSchema> PartialSchema for OneOrMany<T> {
    fn schema() -> RefOr<Schema> {
        let row = || utoipa::openapi::Ref::from_schema_name(T::name());
        let list = ArrayBuilder::new().items(row()).min_items(Some(1));
        OneOfBuilder::new().item(row()).item(list).into()
    }
}

impl<T: ToSchema> ToSchema for OneOrMany<T> {
    fn name() -> Cow<'static, str> {
        format!("OneOrMany_{}", T::name()).into()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        schemas.push((T::name().into_owned(), T::schema()));
        T::schemas(schemas);
    }
}
