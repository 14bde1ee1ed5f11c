//! A database that others keep busy: nobody waits for ever, and who waited is told.

#![allow(clippy::unwrap_used)]

mod common;

use std::time::{Duration, Instant};

use capful_store::{Change, StoreError};
use common::{Fresh, TestShop, job, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database};

on_both!(who_waits_for_long_is_told, what_will_never_do_is_not_called_busy);

async fn who_waits_for_long_is_told(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 1)])).await;
    let mut one = sea_orm::ConnectOptions::new(&fresh.url);
    one.max_connections(1);
    let other = Database::connect(one).await.unwrap();
    let hold = match fresh.url.starts_with("sqlite") {
        true => "BEGIN IMMEDIATE",
        false => "BEGIN; UPDATE container SET meant = own_id",
    };
    other.execute_unprepared(hold).await.unwrap();
    let pour = Change::Pour(vec![pour("p1", noon(3), "soap", 100)]);
    let begun = Instant::now();
    let told = shop.tries(pour.clone()).await.unwrap_err();
    assert!(matches!(told, StoreError::Busy(_)), "{told}");
    assert!(begun.elapsed() < Duration::from_secs(25), "{:?}", begun.elapsed());
    other.execute_unprepared("ROLLBACK").await.unwrap();
    shop.done(pour).await;
    assert_eq!(shop.shelf("soap").await, ["r1/1 open 900"]);
}

/// A rule of the database that the store knows nothing of.
async fn what_will_never_do_is_not_called_busy(fresh: Fresh) {
    let shop = TestShop::with_soap(&fresh).await;
    let other = Database::connect(&fresh.url).await.unwrap();
    let rule = "CREATE UNIQUE INDEX one_a_day ON job (shop_id, planned_on)";
    other.execute_unprepared(rule).await.unwrap();
    shop.done(Change::Book(job("one", 4))).await;
    let told = shop.tries(Change::Book(job("two", 4))).await.unwrap_err();
    assert!(matches!(told, StoreError::Database(_)), "{told}");
    shop.done(Change::Book(job("two", 5))).await;
}
