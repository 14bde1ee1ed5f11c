//! A shop brought back, by the program itself: copies beside a running service, restored, moved,
//! brought up, and read without being changed.

#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::SeqCst};

use common::{Place, Said};
use serde_json::Value;

fn well(said: &Said) {
    assert_eq!(said.code, 0, "{} {:?}", said.out, said.err);
}

#[cfg(unix)]
fn rights(file: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(file).unwrap().permissions().mode() & 0o777
}

fn names(place: &Place) -> Vec<String> {
    let entries = fs::read_dir(place.path("")).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// The drill of docs/backup.md: copied while the service writes, looked over, restored beside, and
/// every pour that was acknowledged before the copy is there.
#[cfg(unix)]
#[test]
fn a_shop_is_brought_back_from_a_copy_made_while_it_was_served() {
    let place = Place::with_demo();
    let service = Arc::new(place.serve());
    let token = place.token("shelf");
    let (done, stop) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
    let writing = {
        let (service, token) = (Arc::clone(&service), token.clone());
        let (done, stop) = (Arc::clone(&done), Arc::clone(&stop));
        std::thread::spawn(move || {
            while !stop.load(SeqCst) {
                let number = done.load(SeqCst) + 1;
                let key = format!("load-{number}");
                let pour = r#""product": "snow-foam", "quantity": 1, "unit": "mL""#;
                let body = format!(r#"{{"id": "{key}", {pour}}}"#);
                service.post_once("api/v1/pours", &token, &key, &body);
                done.fetch_add(1, SeqCst);
            }
        })
    };
    let reaches = |number: usize| {
        while done.load(SeqCst) < number {
            std::thread::yield_now();
        }
    };
    reaches(5);
    let before = done.load(SeqCst);
    let made = place.run(&["backup", "copy.db"]);
    let after = done.load(SeqCst);
    reaches(after + 5);
    stop.store(true, SeqCst);
    writing.join().unwrap();
    well(&made);
    assert!(made.out.ends_with("all add up.\nThe copy is well.\n"), "{}", made.out);
    assert_eq!((rights(&place.path("copy.db")), rights(&place.path("capful.db"))), (0o600, 0o600));
    well(&place.run(&["backup", "--verify", "copy.db"]));
    well(&place.run(&["restore", "copy.db", "--database", "sqlite://back.db"]));
    well(&place.run(&["check", "--database", "sqlite://back.db"]));
    assert_eq!(place.run(&["backup", "copy.db"]).code, 1, "it was written over");
    let busy = place.run(&["restore", "copy.db", "--force"]);
    assert!(busy.err[0].contains("stop the service first"), "{:?}", busy.err);
    well(&place.run(&["export", "out", "--database", "sqlite://back.db"]));
    let poured = fs::read_to_string(place.path("out").join("pours.csv")).unwrap();
    let poured = poured.lines().filter(|line| line.starts_with("load-")).count();
    assert!((before..=after + 1).contains(&poured), "{poured} of {before} to {after}");
}

#[test]
fn a_database_is_replaced_only_when_told_and_kept_beside() {
    let place = Place::with_demo();
    well(&place.run(&["backup", "copy.db"]));
    let token = place.token("read");
    let refused = place.run(&["restore", "copy.db"]);
    assert_eq!((refused.code, refused.err.len()), (1, 1), "{:?}", refused.err);
    assert!(refused.err[0].contains("--force"), "{:?}", refused.err);
    let back = place.run(&["restore", "copy.db", "--force"]);
    well(&back);
    assert!(back.out.contains("is kept as capful.db.before-restore-"), "{}", back.out);
    let tokens: Value = serde_json::from_str(&place.run(&["token", "list", "--json"]).out).unwrap();
    assert_eq!(tokens.as_array().unwrap().len(), 0);
    let kept = names(&place).into_iter().find(|name| name.contains("before-restore")).unwrap();
    let kept = format!("sqlite://{kept}");
    let kept = place.run(&["token", "list", "--json", "--database", &kept]);
    assert!(kept.out.contains("\"scope\": \"read\""), "{} {token}", kept.out);
}

#[test]
fn a_copy_that_was_changed_is_told_and_not_restored() {
    let place = Place::with_demo();
    well(&place.run(&["backup", "copy.db"]));
    let mut bytes = fs::read(place.path("copy.db")).unwrap();
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    fs::write(place.path("copy.db"), bytes).unwrap();
    let told = place.run(&["backup", "--verify", "copy.db"]);
    assert_eq!(told.code, 1);
    assert!(told.err[0].starts_with("error: the file is not as it was written"), "{:?}", told.err);
    assert!(told.out.ends_with("The copy is not well.\n"), "{}", told.out);
    let refused = place.run(&["restore", "copy.db", "--database", "sqlite://back.db"]);
    assert_eq!((refused.code, refused.err.len()), (1, 1), "{:?}", refused.err);
    assert!(!place.path("back.db").exists());
}

#[test]
fn a_database_is_moved_whole() {
    let place = Place::with_demo();
    place.token("setup");
    let moved = place.run(&["move", "--from", "sqlite://capful.db", "--to", "sqlite://other.db"]);
    well(&moved);
    assert!(moved.out.contains("the books of 1 shop add up the same"), "{}", moved.out);
    well(&place.run(&["check", "--database", "sqlite://other.db"]));
    let tokens = place.run(&["token", "list", "--json", "--database", "sqlite://other.db"]);
    assert!(tokens.out.contains("setup"), "{}", tokens.out);
    let twice = place.run(&["move", "--from", "sqlite://capful.db", "--to", "sqlite://other.db"]);
    assert_eq!((twice.code, twice.err.len()), (1, 1));
    let none = place.run(&["move", "--from", "sqlite://none.db", "--to", "sqlite://new.db"]);
    assert_eq!((none.code, place.path("none.db").exists()), (1, false));
    assert!(!place.path("new.db").exists());
}

/// The commands that only read.
const READING: [&[&str]; 6] = [
    &["check"],
    &["export", "out", "--force"],
    &["token", "list"],
    &["person", "list"],
    &["backtest", "--weeks", "1", "--as-of", "2026-03-04"],
    &["backup", "copy.db", "--force"],
];

#[test]
fn what_only_reads_leaves_the_database_as_it_is() {
    let place = Place::with_demo();
    let (bytes, before) = (fs::read(place.path("capful.db")).unwrap(), names(&place));
    assert_eq!(before, ["capful.db", "shop"]);
    for args in READING {
        well(&place.run(args));
        assert_eq!(fs::read(place.path("capful.db")).unwrap(), bytes, "{args:?}");
        let beside = names(&place).into_iter().filter(|name| name.starts_with("capful"));
        assert_eq!(beside.collect::<Vec<_>>(), ["capful.db"], "{args:?}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_only_reads_never_brings_tables_up() {
    use sea_orm_migration::MigratorTrait;
    let place = Place::with_demo();
    let url = format!("sqlite://{}", place.path("capful.db").display());
    let own = sea_orm::Database::connect(url).await.unwrap();
    capful_migrations::Migrator::down(&own, Some(1)).await.unwrap();
    own.close().await.unwrap();
    let bytes = fs::read(place.path("capful.db")).unwrap();
    for args in READING.iter().filter(|args| args[0] != "backup") {
        let said = place.run(args);
        assert_eq!((said.code, said.err.len()), (1, 1), "{args:?} {:?}", said.err);
        assert!(said.err[0].contains("`capful migrate` brings them up"), "{:?}", said.err);
    }
    // A copy can be made all the same, and says of which version it is.
    let copy = place.run(&["backup", "copy.db"]);
    assert!(copy.code == 0 && copy.err[0].contains("1 step behind"), "{:?}", copy.err);
    assert_eq!(fs::read(place.path("capful.db")).unwrap(), bytes);
    let migrated = place.run(&["migrate"]);
    well(&migrated);
    assert!(migrated.out.contains("by 1 step"), "{}", migrated.out);
    assert!(migrated.out.contains("capful.db.before-m"), "{}", migrated.out);
    well(&place.run(&["check"]));
    let again = place.run(&["migrate"]);
    assert!(again.code == 0 && again.out.contains("of this version already"), "{}", again.out);
}

#[test]
fn no_command_but_those_that_write_makes_a_database() {
    let place = Place::empty();
    let all = READING.iter().copied().chain([&["migrate"] as &[&str]]);
    for args in all {
        let said = place.run(args);
        assert_eq!((said.code, said.err.len()), (1, 1), "{args:?} {:?}", said.err);
        assert!(said.err[0].contains("there is no database"), "{:?}", said.err);
        assert_eq!(names(&place), [""; 0], "{args:?}");
    }
}

#[test]
fn check_says_what_it_looked_at() {
    let place = Place::with_demo();
    let said = place.run(&["check"]);
    well(&said);
    let last = said.out.lines().last().unwrap();
    assert!(last.starts_with("The file from end to end, its foreign keys, "), "{last}");
    assert!(last.ends_with("were looked at: all is well."), "{last}");
    let json: Value = serde_json::from_str(&place.run(&["check", "--json"]).out).unwrap();
    assert!(json["database"]["indexes"].as_u64().unwrap() > 40, "{json}");
    assert_eq!(json["database"]["audit_entries"], 1);
}

/// A page that was lost from the middle of the file.
#[test]
fn check_tells_of_a_damaged_file() {
    let place = Place::with_demo();
    let mut bytes = fs::read(place.path("capful.db")).unwrap();
    let middle = bytes.len() / 2 / 4_096 * 4_096;
    bytes[middle..middle + 4_096].fill(0xA5);
    fs::write(place.path("capful.db"), bytes).unwrap();
    let said = place.run(&["check"]);
    assert_eq!(said.code, 1);
    assert!(said.err[0].contains("the database is damaged"), "{:?}", said.err);
    let copy = place.run(&["backup", "copy.db"]);
    assert_eq!((copy.code, place.path("copy.db").exists()), (1, false), "{:?}", copy.err);
}

/// A disk that is full in the midst of a copy: nothing is left that could be taken for one.
#[cfg(unix)]
#[test]
fn a_copy_that_is_cut_short_leaves_nothing() {
    let place = Place::with_demo();
    let program = env!("CARGO_BIN_EXE_capful");
    let line = format!("trap '' XFSZ; ulimit -f 64; exec '{program}' backup copy.db");
    let said = place.shell(&line);
    assert_eq!(said.code, 1, "{} {:?}", said.out, said.err);
    assert_eq!(names(&place), ["capful.db", "shop"]);
}

/// Waits until a service counts so.
#[cfg(unix)]
fn counts(place: &Place, service: &common::Service, line: &str) {
    let token = place.token("read");
    for _ in 0..1_200 {
        let (status, text) = service.get("metrics", Some(&token));
        assert_eq!(status, 200, "{text}");
        if text.contains(line) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    panic!("it never says {line}");
}

#[cfg(unix)]
#[test]
fn a_service_copies_by_itself() {
    let place = Place::with_demo();
    fs::write(place.path("capful.toml"), "backup_dir = \"copies\"\nbackup_keep = \"2d\"\n")
        .unwrap();
    let service = place.serve();
    counts(&place, &service, "capful_backups_total{result=\"made\"} 1");
    assert_eq!(service.get("readyz", None), (200, "ready\n".to_owned()));
    let copies = fs::read_dir(place.path("copies")).unwrap();
    let copies: Vec<_> = copies.map(|entry| entry.unwrap().path()).collect();
    assert_eq!(copies.len(), 2, "{copies:?}");
    let copy = copies.iter().find(|path| path.extension().unwrap() == "db").unwrap();
    well(&place.run(&["backup", "--verify", copy.to_str().unwrap()]));
    assert_eq!((rights(copy), rights(&place.path("copies"))), (0o600, 0o700));
}

#[cfg(unix)]
#[test]
fn a_service_that_cannot_copy_says_so_and_goes_on() {
    let place = Place::with_demo();
    fs::write(place.path("copies"), "no directory").unwrap();
    fs::write(place.path("capful.toml"), "backup_dir = \"copies\"\n").unwrap();
    let service = place.serve();
    counts(&place, &service, "capful_backups_total{result=\"failed\"} 1");
    let (status, text) = service.get("readyz", None);
    assert!(status == 200 && text.contains("copy of the database was not made"), "{text}");
}

#[test]
fn a_rule_that_keeps_nothing_is_refused() {
    let place = Place::empty();
    fs::write(place.path("capful.toml"), "backup_keep = \"7\"\n").unwrap();
    let said = place.run(&["check"]);
    let line = "error: capful.toml:1: backup_keep: found \"7\", expected such as \"7d 4w 12m\"";
    assert!(said.code == 1 && said.err[0].starts_with(line), "{:?}", said.err);
}
