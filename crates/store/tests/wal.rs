//! SQLite's write-ahead log grows while somebody goes on reading, and no longer than that.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::Change;
use common::{Fresh, TestShop, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database, TransactionTrait};

const MIB: u64 = 1024 * 1024;

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn the_log_is_cut_once_a_long_reader_has_ended() {
    let fresh = Fresh::sqlite();
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 3)])).await;
    let other = Database::connect(&fresh.url).await.unwrap();
    let reader = Database::connect(&fresh.url).await.unwrap();
    let reading = reader.begin().await.unwrap();
    reading.execute_unprepared("SELECT * FROM shop").await.unwrap();
    other.execute_unprepared("CREATE TABLE much (bytes BLOB)").await.unwrap();
    for _ in 0..24 {
        let much = "INSERT INTO much VALUES (zeroblob(1048576))";
        other.execute_unprepared(much).await.unwrap();
    }
    assert!(shop.store.wal_bytes() > 24 * MIB, "{} bytes", shop.store.wal_bytes());
    reading.rollback().await.unwrap();
    // The first brings the log into the file, the second begins it anew and cuts it.
    for number in 0..2 {
        let own = format!("p{number}");
        shop.done(Change::Pour(vec![pour(&own, noon(3), "soap", 10)])).await;
    }
    assert!(shop.store.wal_bytes() <= 16 * MIB, "{} bytes", shop.store.wal_bytes());
}
