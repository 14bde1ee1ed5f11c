//! The sixth step: movements of a product are sought, in the order they were posted.

use sea_orm_migration::prelude::*;

const NAME: &str = "movement_by_product_id";

/// This step.
pub(crate) struct Step;

impl MigrationName for Step {
    fn name(&self) -> &str {
        "m0006_sought"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut index = Index::create();
        index.name(NAME).table("movement").col("shop_id").col("product").col("id");
        manager.create_index(index).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let mut index = Index::drop();
        index.name(NAME).table("movement");
        manager.drop_index(index).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
