//! What the tables have in common: their key, the kinds of their columns, and how they name rows
//! of each other.

use sea_orm_migration::prelude::*;
use sea_orm_migration::sea_query::{ForeignKeyCreateStatement, IndexCreateStatement};

/// A table on its way.
pub(crate) struct NewTable {
    name: &'static str,
    table: TableCreateStatement,
    indexes: Vec<IndexCreateStatement>,
}

impl NewTable {
    /// A table keyed by `(shop_id, id)`.
    pub(crate) fn of_shop(name: &'static str) -> Self {
        let mut new = Self::bare(name).uuid("shop_id").uuid("id");
        new.table.primary_key(Index::create().col("shop_id").col("id"));
        new
    }

    /// The same, whose rows have names of the shop's own, each once.
    pub(crate) fn of_shop_with_names(name: &'static str) -> Self {
        Self::of_shop(name).text("own_id").once(&["own_id"])
    }

    /// A table without columns yet.
    pub(crate) fn bare(name: &'static str) -> Self {
        let mut table = Table::create();
        table.table(name);
        Self { name, table, indexes: Vec::new() }
    }

    fn column(mut self, mut column: ColumnDef) -> Self {
        self.table.col(column.take());
        self
    }

    /// An identifier of the service.
    pub(crate) fn uuid(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).uuid().not_null().take())
    }

    /// The same, or nothing.
    pub(crate) fn maybe_uuid(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).uuid().take())
    }

    /// Text; decimals that a person wrote are text too, so that they come back as written.
    pub(crate) fn text(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).text().not_null().take())
    }

    /// The same, or nothing.
    pub(crate) fn maybe_text(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).text().take())
    }

    /// A whole number: thousandths of a base unit, minor units of money, days, containers.
    pub(crate) fn number(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).big_integer().not_null().take())
    }

    /// The same, or nothing.
    pub(crate) fn maybe_number(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).big_integer().take())
    }

    /// Yes or no.
    pub(crate) fn yes_or_no(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).boolean().not_null().take())
    }

    /// A moment, to the microsecond.
    pub(crate) fn time(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).timestamp_with_time_zone().not_null().take())
    }

    /// The same, or nothing.
    pub(crate) fn maybe_time(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).timestamp_with_time_zone().take())
    }

    /// A day of the shop's calendar.
    pub(crate) fn day(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).date().not_null().take())
    }

    /// The same, or nothing.
    pub(crate) fn maybe_day(self, name: &'static str) -> Self {
        self.column(ColumnDef::new(name).date().take())
    }

    /// What may stand once only in a shop.
    pub(crate) fn once(mut self, columns: &[&'static str]) -> Self {
        self.table.index(self.index(columns, "once").unique());
        self
    }

    /// What rows are looked for by.
    pub(crate) fn sought_by(mut self, columns: &[&'static str]) -> Self {
        let mut index = self.index(columns, "by");
        self.indexes.push(index.table(self.name).take());
        self
    }

    /// What rows are looked for by before their shop is known.
    pub(crate) fn known_by(mut self, column: &'static str) -> Self {
        let mut index = Index::create();
        index.name(format!("{}_known_by_{column}", self.name)).table(self.name).col(column);
        self.indexes.push(index.unique().take());
        self
    }

    fn index(&self, columns: &[&'static str], word: &str) -> IndexCreateStatement {
        let mut index = Index::create();
        index.name(format!("{}_{word}_{}", self.name, columns.join("_"))).col("shop_id");
        for column in columns {
            index.col(*column);
        }
        index
    }

    /// A column that names a row of another table by the shop's own id.
    pub(crate) fn names(self, column: &'static str, other: &'static str) -> Self {
        self.bound(&[column], other, &["own_id"])
    }

    /// A column that names a row of another table by the service's id.
    pub(crate) fn names_by_id(self, column: &'static str, other: &'static str) -> Self {
        self.bound(&[column], other, &["id"])
    }

    /// Rows of no shop but one that is there.
    pub(crate) fn belongs_to_shop(self) -> Self {
        self.bound(&[], "shop", &[])
    }

    fn bound(mut self, own: &[&'static str], other: &'static str, its: &[&'static str]) -> Self {
        let what = own.first().unwrap_or(&"shop");
        let mut key = ForeignKeyCreateStatement::new();
        key.name(format!("{}_names_{what}", self.name)).from(self.name, "shop_id");
        key.to(other, "shop_id");
        for (own, its) in own.iter().zip(its) {
            key.from_col(*own).to_col(*its);
        }
        self.table.foreign_key(&mut key);
        self
    }
}

/// Makes tables, each with what it is sought by.
pub(crate) async fn create(
    manager: &SchemaManager<'_>,
    tables: Vec<NewTable>,
) -> Result<(), DbErr> {
    for new in tables {
        manager.create_table(new.table).await?;
        for index in new.indexes {
            manager.create_index(index).await?;
        }
    }
    Ok(())
}

/// Takes tables away, the last to be made first.
pub(crate) async fn drop_all(
    manager: &SchemaManager<'_>,
    names: &[&'static str],
) -> Result<(), DbErr> {
    for name in names.iter().rev() {
        manager.drop_table(Table::drop().table(*name).take()).await?;
    }
    Ok(())
}

/// A step of its own transaction: the tables that it makes.
macro_rules! step {
    ($name:literal, $tables:expr, $names:expr) => {
        /// This step.
        pub(crate) struct Step;

        impl MigrationName for Step {
            fn name(&self) -> &str {
                $name
            }
        }

        #[async_trait::async_trait]
        impl MigrationTrait for Step {
            async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
                create(manager, $tables).await
            }

            async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
                drop_all(manager, &$names).await
            }

            fn use_transaction(&self) -> Option<bool> {
                Some(true)
            }
        }
    };
}
pub(crate) use step;
