//! A whole database moved to one of the other kind and back: every table, every column, every row.

#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use capful_demo::demo_shop;
use capful_forecast::expected_pours;
use capful_store::{
    Answer, By, Change, EventKind, NewPerson, NewSession, NewToken, Role, Scope, Store, TableSum,
    TryKey, WriteContext, free_space, move_database,
};
use chrono::NaiveDate;
use common::{Fresh, TestShop, id, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database, DbBackend, Statement};
use uuid::Uuid;

/// A shop with rows in every table.
async fn of_everything(fresh: &Fresh) -> (Store, Uuid) {
    let facts = demo_shop(NaiveDate::from_ymd_opt(2026, 3, 2).unwrap(), 1);
    let store = fresh.store().await;
    let (shop, now) = (store.new_uuid(noon(2)), noon(2));
    let expected = expected_pours(&capful_domain::Snapshot::of(&facts, now));
    let product = facts.products[0].id.clone();
    let import = Change::Import { facts: Box::new(facts), expected };
    let asked = WriteContext::plainly(shop, now);
    store.change_plainly(&asked, &import).await.unwrap();
    let answer = |_: &_| Answer { status: 201, body: "{\"née\": \"ü 🧽\"}".to_owned() };
    let one = Change::Pour(vec![pour("p-one", noon(2), product.as_str(), 1)]);
    store.change(&asked.clone().once("key one", "fingerprint"), &one, answer).await.unwrap();
    let undo = Change::Reverse { kind: EventKind::Pour, id: id("p-one") };
    store.change_plainly(&asked, &undo).await.unwrap();
    // Moments finer than a microsecond are cut, whoever gives them.
    let fine = now + chrono::TimeDelta::nanoseconds(123_456_789);
    let new = NewPerson {
        shop,
        sign_in: "Ada",
        name: "Ada Wren",
        role: Role::Owner,
        password_hash: "no hash",
    };
    let person = store.add_person(&new, fine, By::Nobody).await.unwrap();
    let expires_at = fine + chrono::TimeDelta::days(7);
    let session = NewSession { shop, person: person.id, text: "session", expires_at };
    store.add_session(&session, fine).await.unwrap();
    let (scope, label) = (Scope::Shelf, "till");
    let new = NewToken { shop, text: "token", scope, label, expires_at: Some(expires_at) };
    let token = store.add_token(&new, fine, By::Person(person.id)).await.unwrap();
    store.revoke_token(shop, token.id, fine, By::Nobody).await.unwrap();
    store.add_device(shop, person.id, "a browser", fine).await.unwrap();
    store.take_try(&[TryKey::name("Ada")], fine).await.unwrap();
    (store, shop)
}

/// Every table that the migrations made in a database, but their own.
async fn tables(url: &str) -> BTreeSet<String> {
    let own = Database::connect(url).await.unwrap();
    let sql = "SELECT name FROM sqlite_master WHERE type = 'table'";
    let rows = own.query_all_raw(Statement::from_string(DbBackend::Sqlite, sql)).await.unwrap();
    let names = rows.iter().map(|row| row.try_get::<String>("", "name").unwrap());
    names.filter(|name| name != "seaql_migrations").collect()
}

/// Every value of an SQLite database as SQL writes it, row by row.
async fn raw(url: &str) -> Vec<String> {
    let own = Database::connect(url).await.unwrap();
    let mut all = Vec::new();
    for table in tables(url).await {
        let columns = format!("SELECT name FROM pragma_table_info('{table}')");
        let columns = Statement::from_string(DbBackend::Sqlite, columns);
        let columns = own.query_all_raw(columns).await.unwrap();
        let quoted = columns.iter().map(|row| {
            let name: String = row.try_get("", "name").unwrap();
            format!("typeof(\"{name}\") || quote(\"{name}\")")
        });
        let row = quoted.collect::<Vec<_>>().join(" || ', ' || ");
        let sql = format!("SELECT {row} AS line FROM \"{table}\" ORDER BY 1");
        let rows = own.query_all_raw(Statement::from_string(DbBackend::Sqlite, sql)).await;
        let lines = rows.unwrap();
        let lines = lines.iter().map(|row| row.try_get::<String>("", "line").unwrap());
        all.extend(lines.map(|line| format!("{table}: {line}")));
    }
    all
}

async fn moved(from: &Store, to: &str) -> Vec<TableSum> {
    let moved = move_database(from, to, noon(3), &free_space, &|_, _| {}).await.unwrap();
    assert!(moved.rows() > 5_000, "{}", moved.rows());
    moved.tables
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn every_table_is_copied_and_none_is_empty_in_this_test() {
    let fresh = Fresh::sqlite();
    let (store, _) = of_everything(&fresh).await;
    let sums = store.table_sums().await.unwrap();
    let summed: BTreeSet<String> = sums.iter().map(|sum| sum.table.clone()).collect();
    assert_eq!(summed, tables(&fresh.url).await);
    // A table that this test leaves empty would be moved without being looked at.
    let empty: Vec<&TableSum> = sums.iter().filter(|sum| sum.rows == 0).collect();
    assert_eq!(empty, [] as [&TableSum; 0]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn from_a_file_into_another_nothing_changes() {
    let fresh = Fresh::sqlite();
    let (store, shop) = of_everything(&fresh).await;
    let place = tempfile::tempdir().unwrap();
    let to = format!("sqlite:{}", place.path().join("other.db").display());
    assert_eq!(moved(&store, &to).await, store.table_sums().await.unwrap());
    assert_eq!(raw(&to).await, raw(&fresh.url).await);
    let other = Store::open(&to).await.unwrap();
    assert_eq!(other.check(shop).await.unwrap(), store.check(shop).await.unwrap());
    let twice = move_database(&store, &to, noon(3), &free_space, &|_, _| {}).await.unwrap_err();
    assert!(twice.to_string().contains("stop the service first"), "{twice}");
    other.close().await;
    let twice = move_database(&store, &to, noon(3), &free_space, &|_, _| {}).await.unwrap_err();
    assert!(twice.to_string().contains("is not empty"), "{twice}");
    assert_eq!(std::fs::read_dir(place.path()).unwrap().count(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn from_a_file_to_postgres_and_back_every_row_is_the_same() {
    let Some(postgres) = Fresh::postgres().await else { return };
    let fresh = Fresh::sqlite();
    let (store, shop) = of_everything(&fresh).await;
    let sums = store.table_sums().await.unwrap();
    assert_eq!(moved(&store, &postgres.url).await, sums);
    let there = Store::open_to_read(&postgres.url).await.unwrap();
    assert_eq!(there.table_sums().await.unwrap(), sums);
    assert_eq!(there.check(shop).await.unwrap(), store.check(shop).await.unwrap());
    assert!(there.inspect().await.unwrap().is_well());
    let place = tempfile::tempdir().unwrap();
    let back = format!("sqlite:{}", place.path().join("back.db").display());
    assert_eq!(moved(&there, &back).await, sums);
    assert_eq!(raw(&back).await, raw(&fresh.url).await);
    // What was moved goes on as it was: the same person, and the same request answered again.
    let back = Store::open(&back).await.unwrap();
    assert!(back.signing_in("ada").await.unwrap().is_some());
    let asked = WriteContext::plainly(shop, noon(3)).once("key one", "fingerprint");
    let answer = back.answered_before(&asked).await.unwrap().unwrap();
    assert_eq!(answer.body, "{\"née\": \"ü 🧽\"}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_postgres_with_rows_in_it_is_left_as_it_is() {
    let Some(postgres) = Fresh::postgres().await else { return };
    let shop = TestShop::with_soap(&postgres).await;
    let before = shop.store.table_sums().await.unwrap();
    let fresh = Fresh::sqlite();
    let other = TestShop::with_soap(&fresh).await;
    other.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    let to = &postgres.url;
    let refused = move_database(&other.store, to, noon(3), &free_space, &|_, _| {}).await;
    let refused = refused.unwrap_err().to_string();
    assert!(refused.contains("is not empty") && refused.contains("nothing was written"));
    assert_eq!(shop.store.table_sums().await.unwrap(), before);
}
