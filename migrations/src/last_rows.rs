//! A step for rows that are told late: the rows of a product that stand, in the order of time.

use sea_orm_migration::prelude::*;

/// Kinds of rows, of which those that were not reversed are sought.
const ROWS: [&str; 6] = ["pour", "receipt", "opening", "discard", "mix", "count"];

/// This step.
pub(crate) struct Step;

impl MigrationName for Step {
    fn name(&self) -> &str {
        "m0007_last_rows"
    }
}

fn index(table: &'static str) -> IndexCreateStatement {
    let mut index = Index::create();
    index.name(name(table)).table(table).col("shop_id").col("product").col("at");
    index
}

fn name(table: &str) -> String {
    format!("{table}_by_product_at")
}

#[async_trait::async_trait]
impl MigrationTrait for Step {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ROWS {
            let mut standing = index(table);
            standing.and_where(Expr::col("reversed_at").is_null());
            manager.create_index(standing).await?;
        }
        let mut expected = index("movement");
        expected.and_where(Expr::cust("\"source_kind\" = 'expected'"));
        manager.create_index(expected).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in ROWS.into_iter().chain(["movement"]) {
            let mut index = Index::drop();
            index.name(name(table)).table(table);
            manager.drop_index(index).await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
