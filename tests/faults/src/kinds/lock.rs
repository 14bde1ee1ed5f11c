//! The file is held by another program, or may not be written.

use std::fs::{Permissions, set_permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::time::Duration;

use sea_orm::{ConnectionTrait, Database};

use crate::figures::Figures;
use crate::postgres::{give, unprivileged};
use crate::round::Round;
use crate::stage::Stage;

/// Another program holds the lock for a while: longer than anybody waits, one time in eight.
pub(super) fn locked(stage: &Stage, seed: u64, _: u64) -> Figures {
    let mut round = Round::on_sqlite(stage, seed);
    let Some(service) = round.open() else { return round.end(None) };
    let mut work = round.work(&[&service]);
    work.patience = Duration::from_secs(40);
    let (entries, ()) = work.run(|| {
        round.pass(50..300);
        let milliseconds = match round.chance.percent(12) {
            true => round.chance.from(11_000..13_000),
            false => round.chance.from(300..1500),
        };
        hold(&round.url, Duration::from_millis(milliseconds));
        round.is_back(&work, "the lock was let go");
    });
    round.take(entries);
    round.figures.faults += 1;
    service.kill();
    let service = round.open();
    if let Some(service) = &service {
        round.judge(service);
    }
    round.end(service)
}

/// Holds the lock to write, as a program that looks into the file may.
fn hold(url: &str, time: Duration) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let mut options = sea_orm::ConnectOptions::new(url);
        options.max_connections(1);
        let other = Database::connect(options).await.unwrap();
        other.execute_unprepared("PRAGMA busy_timeout = 20000").await.unwrap();
        other.execute_unprepared("BEGIN EXCLUSIVE").await.unwrap();
        std::thread::sleep(time);
        other.execute_unprepared("ROLLBACK").await.unwrap();
        other.close().await.unwrap();
    });
}

/// The file, its directory or both are read-only when the service starts; then they are not.
///
/// It may say so and not start. Where it starts, nothing that it acknowledges is lost.
pub(super) fn read_only(stage: &Stage, seed: u64, _: u64) -> Figures {
    let mut round = Round::on_sqlite(stage, seed);
    let user = unprivileged();
    let (file, directory) = (round.file(), round.place.path().to_owned());
    let (file_mode, directory_mode) =
        *round.chance.one(&[(0o444, 0o755), (0o644, 0o555), (0o444, 0o555)]);
    for path in [&file, &directory] {
        give(path, user);
    }
    // The log lies beside the file.
    std::fs::write(directory.join("log"), "").unwrap();
    modes(&file, file_mode, &directory, directory_mode);
    let program = stage.program.as_user(user);
    if let Ok(service) = program.serve(&round.url, &directory.join("log")) {
        let mut work = round.work(&[&service]);
        work.most = 10;
        let entries = work.run_to_its_end();
        round.take(entries);
        service.kill();
    }
    modes(&file, 0o644, &directory, 0o755);
    round.figures.faults += 1;
    let service = round.serve(&program);
    if let Some(service) = &service {
        round.judge(service);
        let mut work = round.work(&[service]);
        work.most = 10;
        let entries = work.run_to_its_end();
        round.take(entries);
        round.judge(service);
    }
    round.end(service)
}

/// Sets the modes of the file, of what lies beside it (SQLite gives that the file's own mode) and
/// of the directory.
fn modes(file: &Path, file_mode: u32, directory: &Path, directory_mode: u32) {
    for path in ["", "-wal", "-shm"].map(|end| format!("{}{end}", file.display())) {
        if Path::new(&path).exists() {
            set_permissions(path, Permissions::from_mode(file_mode)).unwrap();
        }
    }
    set_permissions(directory, Permissions::from_mode(directory_mode)).unwrap();
}
