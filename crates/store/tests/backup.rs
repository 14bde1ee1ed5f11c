//! Copies of a database: made while others write to it, whole or not at all, looked over, and
//! brought back.

#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::SeqCst};

use capful_domain::facts::Pour;
use capful_store::{
    Answer, BackupOptions, Change, MovementFilter, Store, StoreError, Verified, checksum_of,
    restore_backup, verify_backup,
};
use common::{Fresh, TestShop, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database};
use sha2::{Digest, Sha256};
use tempfile::TempDir;

on_both!(
    a_copy_made_under_load_restores_to_the_ledger_up_to_its_moment,
    a_copy_is_private_and_has_a_checksum_that_others_can_check,
    a_copy_never_takes_the_place_of_something_unasked,
    a_disk_that_is_short_leaves_nothing,
    an_empty_database_has_nothing_to_copy,
);

/// A directory to copy into.
struct Place(TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn file(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn url(&self, name: &str) -> String {
        format!("sqlite:{}", self.file(name).display())
    }

    /// Everything that lies there.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

async fn stocked(fresh: &Fresh) -> TestShop {
    let shop = TestShop::with_soap(fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 9)])).await;
    shop.done(Change::Pour(vec![pour("p0", noon(3), "soap", 100)])).await;
    shop
}

async fn copied(shop: &TestShop, file: &Path) -> Verified {
    shop.store.backup(file, &BackupOptions::default()).await.unwrap()
}

async fn restored(file: &Path, url: &str) -> Result<Option<PathBuf>, StoreError> {
    let options = BackupOptions::default();
    restore_backup(file, url, &options, noon(21)).await.map(|restored| restored.kept)
}

/// The bits that say who may read a file.
fn rights(file: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(file).unwrap().permissions().mode() & 0o777
}

/// Pours one mL after the other until it is told to stop; counts those that were acknowledged.
async fn pours(shop: &TestShop, acknowledged: &AtomicUsize, stop: &AtomicBool) {
    let mut number = 0;
    while !stop.load(SeqCst) {
        number += 1;
        let own = format!("load-{number}");
        let asked = shop.asked().once(&own, "POST /pours");
        let change = Change::Pour(vec![pour(&own, noon(4), "soap", 1)]);
        let answer = |_: &_| Answer { status: 201, body: "{}".to_owned() };
        shop.store.change(&asked, &change, answer).await.unwrap();
        acknowledged.fetch_add(1, SeqCst);
    }
}

async fn reaches(acknowledged: &AtomicUsize, number: usize) {
    while acknowledged.load(SeqCst) < number {
        tokio::task::yield_now().await;
    }
}

async fn a_copy_made_under_load_restores_to_the_ledger_up_to_its_moment(fresh: Fresh) {
    let shop = Arc::new(stocked(&fresh).await);
    let (acknowledged, stop) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
    let writing = {
        let (shop, acknowledged, stop) =
            (Arc::clone(&shop), Arc::clone(&acknowledged), Arc::clone(&stop));
        tokio::spawn(async move { pours(&shop, &acknowledged, &stop).await })
    };
    reaches(&acknowledged, 20).await;
    let (place, before) = (Place::new(), acknowledged.load(SeqCst));
    let file = place.file("copy.db");
    let verified = copied(&shop, &file).await;
    let after = acknowledged.load(SeqCst);
    reaches(&acknowledged, after + 20).await;
    stop.store(true, SeqCst);
    writing.await.unwrap();
    assert!(verified.is_well(), "{verified:?}");
    // Into a file, and into a PostgreSQL where there is one.
    let file_url = place.url("back.db");
    restored(&file, &file_url).await.unwrap();
    let store = Store::open(&file_url).await.unwrap();
    is_the_ledger_up_to_a_moment(&shop, &store, before..=after).await;
    if let Some(other) = Fresh::postgres().await {
        restored(&file, &other.url).await.unwrap();
        let store = Store::open(&other.url).await.unwrap();
        is_the_ledger_up_to_a_moment(&shop, &store, before..=after).await;
    }
}

/// Every row of a store is the row of the shop, and none is missing before the last.
async fn is_the_ledger_up_to_a_moment(
    shop: &TestShop,
    back: &Store,
    acknowledged: std::ops::RangeInclusive<usize>,
) {
    let own = shop.shop;
    let all = shop.store.page::<Pour>(own, None, 1_000_000).await.unwrap();
    let there = back.page::<Pour>(own, None, 1_000_000).await.unwrap();
    assert_eq!(there, all[..there.len()]);
    // The one pour of the stock is there too, and one more may have been on its way.
    let poured = there.len() - 1;
    let (least, most) = (*acknowledged.start(), *acknowledged.end() + 1);
    assert!((least..=most).contains(&poured), "{poured} of {least} to {most}");
    let all = shop.store.movements(own, &MovementFilter::All).await.unwrap();
    let there = back.movements(own, &MovementFilter::All).await.unwrap();
    assert_eq!(there, all[..there.len()]);
    let all = shop.store.deeds(own, None, 1_000_000).await.unwrap();
    let there = back.deeds(own, None, 1_000_000).await.unwrap();
    assert_eq!(there, all[all.len() - there.len()..]);
    for number in [1, poured] {
        let key = format!("load-{number}");
        let asked = shop.asked().once(&key, "POST /pours");
        assert!(back.answered_before(&asked).await.unwrap().is_some(), "{key}");
    }
    let late = shop.asked().once(&format!("load-{}", poured + 1), "POST /pours");
    assert_eq!(back.answered_before(&late).await.unwrap(), None);
    let checked = back.check(own).await.unwrap();
    assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]));
    assert_eq!(checked.movements, there_movements(back, shop).await);
}

async fn there_movements(back: &Store, shop: &TestShop) -> usize {
    back.movements(shop.shop, &MovementFilter::All).await.unwrap().len()
}

async fn a_copy_is_private_and_has_a_checksum_that_others_can_check(fresh: Fresh) {
    let (shop, place) = (stocked(&fresh).await, Place::new());
    let file = place.file("copy.db");
    let made = copied(&shop, &file).await;
    assert_eq!(place.names(), ["copy.db", "copy.db.sha256"]);
    assert_eq!((rights(&file), rights(&checksum_of(&file))), (0o600, 0o600));
    let bytes = fs::read(&file).unwrap();
    let digest: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let line = fs::read_to_string(checksum_of(&file)).unwrap();
    assert_eq!(line, format!("{digest}  copy.db\n"));
    let verified = verify_backup(&file).await.unwrap();
    assert_eq!((verified.has_checksum, verified.is_well()), (true, true), "{verified:?}");
    assert_eq!((verified.bytes, verified.shops[0].1.movements), (bytes.len() as u64, 11));
    assert_eq!(verified, made);
    // Looking it over left it as it was, and nothing beside it.
    assert_eq!(fs::read(&file).unwrap(), bytes);
    assert_eq!(place.names(), ["copy.db", "copy.db.sha256"]);
}

async fn a_copy_never_takes_the_place_of_something_unasked(fresh: Fresh) {
    let (shop, place) = (stocked(&fresh).await, Place::new());
    let file = place.file("copy.db");
    fs::write(&file, "dear gulls").unwrap();
    let options = BackupOptions::default();
    let refused = shop.store.backup(&file, &options).await.unwrap_err().to_string();
    assert!(refused.contains("is there already") && refused.contains("--force"), "{refused}");
    assert_eq!(fs::read_to_string(&file).unwrap(), "dear gulls");
    let options = BackupOptions { may_replace: true, ..options };
    assert!(shop.store.backup(&file, &options).await.unwrap().is_well());
    assert!(shop.store.backup(&file, &options).await.unwrap().is_well());
    assert!(verify_backup(&file).await.unwrap().has_checksum);
    assert_eq!(place.names(), ["copy.db", "copy.db.sha256"]);
    if let Some(own) = fresh.url.strip_prefix("sqlite:") {
        let itself = shop.store.backup(Path::new(own), &options).await.unwrap_err().to_string();
        assert!(itself.contains("is the database itself"), "{itself}");
    }
}

async fn a_disk_that_is_short_leaves_nothing(fresh: Fresh) {
    let (shop, place) = (stocked(&fresh).await, Place::new());
    let options = BackupOptions { free_space: &|_| Ok(4_096), ..BackupOptions::default() };
    let refused = shop.store.backup(&place.file("copy.db"), &options).await.unwrap_err();
    let refused = refused.to_string();
    assert!(
        refused.contains("B are needed and 4.0 kB are free, so nothing was written"),
        "{refused}"
    );
    assert_eq!(place.names(), [""; 0]);
}

async fn an_empty_database_has_nothing_to_copy(fresh: Fresh) {
    let (store, place) = (Store::open(&fresh.url).await.unwrap(), Place::new());
    let file = place.file("copy.db");
    let refused = store.backup(&file, &BackupOptions::default()).await.unwrap_err().to_string();
    assert!(refused.contains("there is nothing to copy"), "{refused}");
    assert_eq!(place.names(), [""; 0]);
}

/// A copy of a shop in a file, and where.
async fn copy_of_shop() -> (Fresh, TestShop, Place, PathBuf) {
    let fresh = Fresh::sqlite();
    let (shop, place) = (stocked(&fresh).await, Place::new());
    let file = place.file("copy.db");
    copied(&shop, &file).await;
    (fresh, shop, place, file)
}

fn overwrite(file: &Path, at: u64, bytes: &[u8]) {
    let mut file = fs::File::options().write(true).open(file).unwrap();
    file.seek(SeekFrom::Start(at)).unwrap();
    file.write_all(bytes).unwrap();
}

#[tokio::test]
async fn damage_is_seen_wherever_it_is() {
    let (_fresh, _shop, place, file) = copy_of_shop().await;
    let whole = fs::read(&file).unwrap();
    let name = b"Foaming soap";
    let at = whole.windows(name.len()).position(|part| part == name).unwrap();
    // A name that reads another way is no damage that SQLite sees.
    overwrite(&file, at as u64, b"Boaming");
    let verified = verify_backup(&file).await.unwrap();
    assert!(!verified.is_whole(), "{verified:?}");
    assert!(verified.inspection.damaged[0].contains("not as it was written"), "{verified:?}");
    let refused = restored(&file, &place.url("back.db")).await.unwrap_err().to_string();
    assert!(refused.contains("is damaged, so nothing was written"), "{refused}");
    assert!(!place.file("back.db").exists());
    // A page of nothing is damage without a checksum too, and so is half a file and no database.
    fs::remove_file(checksum_of(&file)).unwrap();
    fs::write(&file, &whole).unwrap();
    assert!(verify_backup(&file).await.unwrap().is_well());
    for page in [1, 5, 9] {
        fs::write(&file, &whole).unwrap();
        overwrite(&file, page * 4_096, &[0xA5; 4_096]);
        assert!(!verify_backup(&file).await.unwrap().is_whole(), "page {page}");
    }
    fs::write(&file, &whole[..whole.len() / 2]).unwrap();
    assert!(!verify_backup(&file).await.unwrap().is_whole());
    fs::write(&file, "dear gulls, this is no database at all").unwrap();
    assert!(!verify_backup(&file).await.unwrap().is_whole());
    fs::write(&file, "").unwrap();
    assert!(verify_backup(&file).await.is_err());
}

/// Changes a copy as a hand could, and its checksum with it.
async fn changed(file: &Path, sql: &str) {
    let own = Database::connect(format!("sqlite:{}", file.display())).await.unwrap();
    own.execute_unprepared("PRAGMA foreign_keys = OFF").await.unwrap();
    own.execute_unprepared(sql).await.unwrap();
    own.close().await.unwrap();
    fs::remove_file(checksum_of(file)).unwrap();
}

#[tokio::test]
async fn what_is_wrong_in_a_copy_is_told() {
    for (sql, told) in [
        ("DROP INDEX movement_by_product_id", "the database has no index movement_by_product_id"),
        ("DELETE FROM supplier", "none"),
        ("UPDATE container SET left_over = left_over", "none"),
        ("DELETE FROM product", "name a row of product that is not there"),
        ("UPDATE deed SET what = 'dreamt' WHERE what = 'poured'", "of who did what cannot be read"),
        ("UPDATE movement SET change = change + 1 WHERE number = 1", "Two Gulls: container r1/1"),
    ] {
        let (_fresh, _shop, _place, file) = copy_of_shop().await;
        changed(&file, sql).await;
        let found = verify_backup(&file).await;
        if told == "none" {
            let found = found.unwrap();
            assert!(found.is_well() && !found.has_checksum, "{sql}: {found:?}");
            continue;
        }
        // Rows that are gone may leave books that cannot be added up at all.
        let lines = found.map_or_else(|error| vec![error.to_string()], |found| found.wrong());
        assert!(lines.iter().any(|line| line.contains(told)), "{sql}: {lines:?}");
    }
}

#[tokio::test]
async fn a_database_that_is_in_use_is_no_copy() {
    let fresh = Fresh::sqlite();
    let _shop = stocked(&fresh).await;
    let own = Path::new(fresh.url.strip_prefix("sqlite:").unwrap());
    let refused = verify_backup(own).await.unwrap_err().to_string();
    assert!(refused.contains("-wal lies beside it") && refused.contains("in use"), "{refused}");
}

#[tokio::test]
async fn a_database_that_is_open_is_not_replaced() {
    let (fresh, shop, _place, file) = copy_of_shop().await;
    let options = BackupOptions { may_replace: true, ..BackupOptions::default() };
    let refused = restore_backup(&file, &fresh.url, &options, noon(21)).await.unwrap_err();
    let refused = refused.to_string();
    assert!(refused.contains("stop the service first"), "{refused}");
    shop.done(Change::Pour(vec![pour("p1", noon(5), "soap", 7)])).await;
    shop.is_as_replayed().await;
}

#[tokio::test]
async fn a_database_that_is_not_empty_makes_room_only_when_told_and_is_kept() {
    let (fresh, shop, _place, file) = copy_of_shop().await;
    shop.done(Change::Pour(vec![pour("later", noon(5), "soap", 7)])).await;
    let (own, before) = (shop.shop, shop.store.table_sums().await.unwrap());
    shop.store.close().await;
    let refused = restored(&file, &fresh.url).await.unwrap_err().to_string();
    assert!(refused.contains("is not empty") && refused.contains("--force"), "{refused}");
    let options = BackupOptions { may_replace: true, ..BackupOptions::default() };
    let back = restore_backup(&file, &fresh.url, &options, noon(21)).await.unwrap();
    let kept = back.kept.unwrap();
    assert!(kept.to_str().unwrap().ends_with("shop.db.before-restore-20260321T120000Z"));
    let db = PathBuf::from(fresh.url.strip_prefix("sqlite:").unwrap());
    assert_eq!((rights(&kept), rights(&db)), (0o600, 0o600));
    let store = Store::open(&fresh.url).await.unwrap();
    assert_eq!(store.facts(own, None).await.unwrap().pours.len(), 1);
    store.close().await;
    // What was kept is whole in its one file, with what stood beside it.
    let old = Store::open_to_read(&format!("sqlite:{}", kept.display())).await.unwrap();
    assert_eq!(old.table_sums().await.unwrap(), before);
}

#[tokio::test]
async fn a_database_that_cannot_be_read_is_replaced_when_told_and_kept() {
    let (_fresh, shop, place, file) = copy_of_shop().await;
    let broken = place.file("broken.db");
    fs::write(&broken, "dear gulls, this is no database at all").unwrap();
    fs::write(place.file("broken.db-wal"), "of another time").unwrap();
    let url = place.url("broken.db");
    let refused = restored(&file, &url).await.unwrap_err().to_string();
    assert!(refused.contains("cannot be read"), "{refused}");
    let options = BackupOptions { may_replace: true, ..BackupOptions::default() };
    let back = restore_backup(&file, &url, &options, noon(21)).await.unwrap();
    let mut text = String::new();
    fs::File::open(back.kept.unwrap()).unwrap().read_to_string(&mut text).unwrap();
    assert!(text.starts_with("dear gulls"));
    assert!(place.names().contains(&"broken.db.before-restore-20260321T120000Z-wal".to_owned()));
    let store = Store::open(&url).await.unwrap();
    assert_eq!(store.facts(shop.shop, None).await.unwrap().pours.len(), 1);
}

#[tokio::test]
async fn what_another_database_left_would_spoil_a_restored_one() {
    let (_fresh, _shop, place, file) = copy_of_shop().await;
    fs::write(place.file("back.db-wal"), "of another time").unwrap();
    let refused = restored(&file, &place.url("back.db")).await.unwrap_err().to_string();
    assert!(refused.contains("back.db-wal was left by another database"), "{refused}");
    assert!(!place.file("back.db").exists());
}
