//! The tables go up, down and up again on both databases, and a later Capful's are left alone.

#![allow(clippy::unwrap_used)]

mod common;

use capful_migrations::Migrator;
use capful_store::{By, NewToken, Scope, Store, StoreError};
use common::{Fresh, TestShop, noon, receipt};
use sea_orm::{ConnectionTrait, Database, DatabaseConnection};
use sea_orm_migration::{MigratorTrait, SchemaManager};
use uuid::Uuid;

on_both!(
    up_down_and_up_again,
    steps_of_a_later_capful_are_refused,
    each_step_is_undone_alone,
    services_that_start_together_make_the_tables_once,
    a_token_that_was_there_tells_who_made_it,
);

const TABLES: [&str; 25] = [
    "shop",
    "product",
    "ratio",
    "supplier",
    "offer",
    "job_type",
    "usage_sheet",
    "job",
    "purchase_order",
    "order_line",
    "pour",
    "receipt",
    "opening",
    "discard",
    "mix",
    "count",
    "container",
    "movement",
    "idempotency",
    "token",
    "person",
    "session",
    "deed",
    "sign_in_try",
    "device",
];

async fn there(connection: &DatabaseConnection) -> usize {
    let manager = SchemaManager::new(connection);
    let mut there = 0;
    for table in TABLES {
        there += usize::from(manager.has_table(table).await.unwrap());
    }
    there
}

async fn connected(fresh: &Fresh) -> DatabaseConnection {
    let made = if fresh.url.starts_with("sqlite") { "?mode=rwc" } else { "" };
    Database::connect(format!("{}{made}", fresh.url)).await.unwrap()
}

async fn up_down_and_up_again(fresh: Fresh) {
    let connection = connected(&fresh).await;
    Migrator::up(&connection, None).await.unwrap();
    assert_eq!(there(&connection).await, TABLES.len());
    Migrator::down(&connection, None).await.unwrap();
    assert_eq!(there(&connection).await, 0);
    Migrator::up(&connection, None).await.unwrap();
    assert_eq!(there(&connection).await, TABLES.len());
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(capful_store::Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop.is_as_replayed().await;
}

async fn each_step_is_undone_alone(fresh: Fresh) {
    let connection = connected(&fresh).await;
    for steps in 1..=u32::try_from(Migrator::migrations().len()).unwrap() {
        Migrator::up(&connection, Some(1)).await.unwrap();
        Migrator::down(&connection, Some(1)).await.unwrap();
        Migrator::up(&connection, Some(1)).await.unwrap();
        let applied = Migrator::get_applied_migrations(&connection).await.unwrap();
        assert_eq!(applied.len(), usize::try_from(steps).unwrap());
    }
}

async fn steps_of_a_later_capful_are_refused(fresh: Fresh) {
    let store = Store::open(&fresh.url).await.unwrap();
    assert_eq!(store.pending().await.unwrap(), Migrator::migrations().len());
    store.migrate().await.unwrap();
    assert_eq!(store.pending().await.unwrap(), 0);
    let connection = connected(&fresh).await;
    let later = "INSERT INTO seaql_migrations (version, applied_at) VALUES ('m9999_later', 0)";
    connection.execute_unprepared(later).await.unwrap();
    let refused = Store::open(&fresh.url).await.unwrap_err();
    assert!(matches!(&refused, StoreError::Newer(text) if text.contains("m9999_later")));
}

async fn services_that_start_together_make_the_tables_once(fresh: Fresh) {
    let (one, two, three) =
        tokio::join!(Store::open(&fresh.url), Store::open(&fresh.url), Store::open(&fresh.url));
    let (one, two, three) = (one.unwrap(), two.unwrap(), three.unwrap());
    let made = tokio::join!(one.migrate(), two.migrate(), three.migrate());
    assert!(made.0.is_ok() && made.1.is_ok() && made.2.is_ok(), "{made:?}");
    assert_eq!(two.pending().await.unwrap(), 0);
}

async fn a_token_that_was_there_tells_who_made_it(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let new = |text, label| NewToken {
        shop: shop.shop,
        text,
        scope: Scope::Read,
        label,
        expires_at: None,
    };
    let ann = Uuid::now_v7();
    shop.store.add_token(&new("one", "till"), noon(2), By::Person(ann)).await.unwrap();
    shop.store.add_token(&new("two", "phone"), noon(2), By::Nobody).await.unwrap();
    let before = shop.store.tokens(shop.shop).await.unwrap();
    // Back to before tokens told it, and on again.
    let connection = connected(&fresh).await;
    let applied = Migrator::get_applied_migrations(&connection).await.unwrap();
    let back = applied.iter().rev().position(|step| step.name() == "m0010_sign_in").unwrap();
    let back = u32::try_from(back + 1).unwrap();
    Migrator::down(&connection, Some(back)).await.unwrap();
    Migrator::up(&connection, None).await.unwrap();
    assert_eq!(before[0].made_by, Some(ann));
    assert_eq!(shop.store.tokens(shop.shop).await.unwrap(), before);
}
