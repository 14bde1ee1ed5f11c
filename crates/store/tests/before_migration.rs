//! A database of an older version: it is brought up only by what may, with a copy kept of it, and
//! read by nobody else meanwhile; and the rights of every file that is made.

#![cfg(unix)]
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use capful_migrations::Migrator;
use capful_store::{Change, Store, verify_backup};
use common::{Fresh, TestShop, receipt};
use sea_orm::Database;
use sea_orm_migration::MigratorTrait;

on_both!(tables_of_an_older_version_are_brought_up, what_only_reads_brings_nothing_up);

fn rights(file: &Path) -> u32 {
    fs::metadata(file).unwrap().permissions().mode() & 0o777
}

/// The file of a database.
fn file(fresh: &Fresh) -> Option<PathBuf> {
    fresh.url.strip_prefix("sqlite:").map(PathBuf::from)
}

fn names(fresh: &Fresh) -> Vec<String> {
    let Some(file) = file(fresh) else { return Vec::new() };
    let entries = fs::read_dir(file.parent().unwrap()).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// A shop in a database that lacks the last step, which it names.
async fn older(fresh: &Fresh) -> String {
    let shop = TestShop::with_soap(fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 2)])).await;
    shop.store.close().await;
    let own = Database::connect(&fresh.url).await.unwrap();
    Migrator::down(&own, Some(1)).await.unwrap();
    own.close().await.unwrap();
    Migrator::migrations().last().unwrap().name().to_owned()
}

async fn tables_of_an_older_version_are_brought_up(fresh: Fresh) {
    let step = older(&fresh).await;
    let store = Store::open(&fresh.url).await.unwrap();
    assert_eq!(store.pending().await.unwrap(), 1);
    let migrated = store.migrate().await.unwrap();
    assert_eq!((migrated.steps, store.pending().await.unwrap()), (vec![step.clone()], 0));
    assert!(store.inspect().await.unwrap().is_well());
    store.close().await;
    let Some(file) = file(&fresh) else {
        assert_eq!(migrated.copy, None);
        return;
    };
    let copy = migrated.copy.unwrap();
    assert_eq!(copy, PathBuf::from(format!("{}.before-{step}", file.display())));
    assert_eq!(rights(&copy), 0o600);
    let verified = verify_backup(&copy).await.unwrap();
    assert_eq!((verified.is_well(), verified.steps_behind), (true, 1), "{verified:?}");
    // Nothing is left to do, and nothing is copied for it.
    fs::remove_file(&copy).unwrap();
    let store = fresh.store().await;
    store.close().await;
    assert_eq!(names(&fresh), ["shop.db"]);
}

async fn what_only_reads_brings_nothing_up(fresh: Fresh) {
    older(&fresh).await;
    let before = file(&fresh).map(|file| fs::read(file).unwrap());
    let there = names(&fresh);
    let store = Store::open_to_read(&fresh.url).await.unwrap();
    assert_eq!(store.pending().await.unwrap(), 1);
    let refused = store.migrate().await.unwrap_err().to_string();
    assert!(refused.contains("read"), "{refused}");
    assert_eq!(store.pending().await.unwrap(), 1);
    store.close().await;
    assert_eq!(file(&fresh).map(|file| fs::read(file).unwrap()), before);
    let left: Vec<String> = names(&fresh).into_iter().filter(|n| !n.contains("before")).collect();
    assert_eq!(left, there);
}

#[tokio::test]
async fn what_only_reads_makes_no_file() {
    let fresh = Fresh::sqlite();
    assert!(Store::open_to_read(&fresh.url).await.is_err());
    assert_eq!(names(&fresh), [""; 0]);
}

#[tokio::test]
async fn a_database_is_read_by_its_owner_alone() {
    let fresh = Fresh::sqlite();
    let _shop = TestShop::with_soap(&fresh).await;
    let file = file(&fresh).unwrap();
    assert_eq!(names(&fresh), ["shop.db", "shop.db-shm", "shop.db-wal"]);
    for name in names(&fresh) {
        assert_eq!(rights(&file.with_file_name(&name)), 0o600, "{name}");
    }
}

#[tokio::test]
async fn services_that_start_together_keep_what_stood_before() {
    let fresh = Fresh::sqlite();
    let step = older(&fresh).await;
    let (one, two) = tokio::join!(Store::open(&fresh.url), Store::open(&fresh.url));
    let (one, two) = (one.unwrap(), two.unwrap());
    let made = tokio::join!(one.migrate(), two.migrate());
    assert!(made.0.is_ok() && made.1.is_ok(), "{made:?}");
    let copy = format!("{}.before-{step}", file(&fresh).unwrap().display());
    assert_eq!(verify_backup(Path::new(&copy)).await.unwrap().steps_behind, 1);
}
