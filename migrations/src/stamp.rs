//! The eighth step: how often a shop was set up, by which a service sees that somebody else did.

use sea_orm_migration::prelude::*;

const COLUMN: &str = "set_up";

/// This step.
pub(crate) struct Step;

impl MigrationName for Step {
    fn name(&self) -> &str {
        "m0008_stamp"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut number = ColumnDef::new(COLUMN);
        number.big_integer().not_null().default(0);
        let mut add = Table::alter();
        add.table("shop").add_column(number);
        manager.alter_table(add).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut drop = Table::alter();
        drop.table("shop").drop_column(COLUMN);
        manager.alter_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
