//! PostgreSQL's own tools bring a shop back too, as docs/backup.md says.

#![allow(clippy::unwrap_used)]

mod common;

use std::path::PathBuf;
use std::process::Command;

use capful_store::{Change, Store};
use common::{Fresh, TestShop, noon, pour, receipt};
use sea_orm::{ConnectionTrait, Database};
use uuid::Uuid;

/// One of PostgreSQL's programs, wherever it was installed.
fn program(name: &str) -> PathBuf {
    let installed = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let installed = installed.map(|version| version.path().join("bin").join(name));
    installed.into_iter().find(|path| path.exists()).unwrap_or_else(|| PathBuf::from(name))
}

fn runs(command: &mut Command) {
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn what_was_dumped_is_restored_row_for_row() {
    let Some(fresh) = Fresh::postgres().await else { return };
    let shop = TestShop::with_soap(&fresh).await;
    shop.done(Change::Receive(vec![receipt("r1", 2, "soap", 9)])).await;
    shop.done(Change::Pour(vec![pour("p1", noon(3), "soap", 100)])).await;
    let server = std::env::var("CAPFUL_TEST_POSTGRES").unwrap();
    let schema = fresh.url.split("search_path]=").nth(1).unwrap();
    let place = tempfile::tempdir().unwrap();
    let dump = place.path().join("capful.dump");
    runs(
        Command::new(program("pg_dump"))
            .args(["--format=custom", "--schema", schema, "--file"])
            .args([dump.as_os_str(), server.as_ref()]),
    );
    // What is written after the dump is not in it.
    let sums = shop.store.table_sums().await.unwrap();
    shop.done(Change::Pour(vec![pour("later", noon(4), "soap", 1)])).await;
    let name = format!("back_{}", Uuid::now_v7().simple());
    let own = Database::connect(&server).await.unwrap();
    own.execute_unprepared(&format!("CREATE DATABASE {name}")).await.unwrap();
    let back = server.replacen("/postgres?", &format!("/{name}?"), 1);
    runs(
        Command::new(program("pg_restore"))
            .args(["--no-owner", "--exit-on-error", "--dbname", &back])
            .arg(&dump),
    );
    let back = format!("{back}&options[search_path]={schema}");
    let back = Store::open_to_read(&back).await.unwrap();
    assert_eq!(back.table_sums().await.unwrap(), sums);
    assert!(back.inspect().await.unwrap().is_well());
    let checked = back.check(shop.shop).await.unwrap();
    assert_eq!((checked.wrong, checked.otherwise), (vec![], vec![]));
}
