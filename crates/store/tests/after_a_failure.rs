//! After a failure of the database itself the next change is written, and is there for good.

#![allow(clippy::unwrap_used)]

mod common;

use capful_store::{Change, Store};
use common::{Fresh, TestShop, id, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database, DatabaseConnection};

/// A second connection to a database, which makes what is written to a table fail.
struct Saboteur(DatabaseConnection);

impl Saboteur {
    async fn of(fresh: &Fresh) -> Self {
        Self(Database::connect(&fresh.url).await.unwrap())
    }

    async fn runs(&self, sql: &str) {
        self.0.execute_unprepared(sql).await.unwrap();
    }
}

/// SQLite gives a transaction up by itself where the disk is full, and the driver does not see it
/// (`RAISE(ROLLBACK)` is the same from outside).
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn what_is_acknowledged_after_a_transaction_was_given_up_is_there() {
    let fresh = Fresh::sqlite();
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 3)])).await;
    let saboteur = Saboteur::of(&fresh).await;
    saboteur
        .runs(
            "CREATE TRIGGER full BEFORE INSERT ON pour \
             BEGIN SELECT RAISE(ROLLBACK, 'the disk is full'); END",
        )
        .await;
    for _ in 0..3 {
        let pours = Change::Pour(vec![pour("p1", noon(3), "soap", 100)]);
        shop.tries(pours).await.unwrap_err();
    }
    saboteur.runs("DROP TRIGGER full").await;
    for number in 2..6 {
        let own = format!("p{number}");
        shop.done(Change::Pour(vec![pour(&own, noon(3), "soap", 100)])).await;
    }
    shop.is_as_replayed().await;
    let TestShop { store, shop } = shop;
    store.close().await;
    let again = Store::open(&fresh.url).await.unwrap();
    let pours = again.facts(shop, None).await.unwrap().pours;
    let kept: Vec<&str> = pours.iter().map(|pour| pour.id.as_str()).collect();
    assert_eq!(kept, ["p2", "p3", "p4", "p5"]);
}

/// What makes a commit fail: a row that names another that is not there, held to at the end.
async fn fail_at_the_commit(saboteur: &Saboteur) {
    saboteur.runs("CREATE TABLE one (a INTEGER PRIMARY KEY)").await;
    saboteur
        .runs("CREATE TABLE other (a INTEGER REFERENCES one (a) DEFERRABLE INITIALLY DEFERRED)")
        .await;
    saboteur
        .runs("CREATE TRIGGER bad AFTER INSERT ON receipt BEGIN INSERT INTO other VALUES (7); END")
        .await;
}

async fn nothing_but_what_came_later_is_there(shop: TestShop, fresh: &Fresh) {
    shop.done(Change::Receive(vec![receipt("r2", 2, "soap", 3)])).await;
    shop.done(Change::Receive(vec![receipt("r3", 2, "soap", 3)])).await;
    let TestShop { store, shop } = shop;
    store.close().await;
    let again = Store::open(&fresh.url).await.unwrap();
    let receipts = again.facts(shop, None).await.unwrap().receipts;
    assert_eq!(receipts.iter().map(|row| &row.id).collect::<Vec<_>>(), [&id("r2"), &id("r3")]);
    assert_eq!(again.check(shop).await.unwrap().wrong, []);
}

/// The same where it is seen at the commit.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn what_is_acknowledged_after_a_failed_commit_is_there() {
    let fresh = Fresh::sqlite();
    let shop = TestShop::with_soap(&fresh).await;
    let saboteur = Saboteur::of(&fresh).await;
    fail_at_the_commit(&saboteur).await;
    shop.tries(Change::Receive(vec![receipt("r1", 2, "soap", 3)])).await.unwrap_err();
    saboteur.runs("DROP TRIGGER bad").await;
    nothing_but_what_came_later_is_there(shop, &fresh).await;
}

/// One after the other, as a disk that stays full does: what was taken for a transaction is none,
/// and what would end it ends nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn what_is_acknowledged_after_two_failures_is_there() {
    let fresh = Fresh::sqlite();
    let shop = TestShop::with_soap(&fresh).await;
    let saboteur = Saboteur::of(&fresh).await;
    saboteur
        .runs(
            "CREATE TRIGGER full BEFORE INSERT ON receipt \
             BEGIN SELECT RAISE(ROLLBACK, 'the disk is full'); END",
        )
        .await;
    let receive = || Change::Receive(vec![receipt("r1", 2, "soap", 3)]);
    shop.tries(receive()).await.unwrap_err();
    saboteur.runs("DROP TRIGGER full").await;
    fail_at_the_commit(&saboteur).await;
    shop.tries(receive()).await.unwrap_err();
    saboteur.runs("DROP TRIGGER bad").await;
    nothing_but_what_came_later_is_there(shop, &fresh).await;
}
