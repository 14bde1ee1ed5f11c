//! The disk fails under a running service, and is well again; the service is not started anew.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::Ordering::SeqCst;
use std::time::{Duration, Instant};

use crate::client::Work;
use crate::disk::{Disk, ENOSPC, EVERY_FILE, FOR_EVER, Failing, TRUNCATE, WRITE};
use crate::figures::Figures;
use crate::postgres::is_root;
use crate::program::Service;
use crate::round::Round;
use crate::stage::Stage;

/// How long `/readyz` may say 200 while no write gets through.
const SEEN: Duration = Duration::from_secs(5);
/// How long it may take to be ready once the disk is well.
const READY: Duration = Duration::from_secs(30);

/// Writes, syncs and reads fail: once, some times, or for a while.
pub(super) fn errors(stage: &Stage, seed: u64, faults: u64) -> Figures {
    let round = Round::on_sqlite(stage, seed);
    failing(round, faults, Failing::draw)
}

/// The disk is full, and has room again: a real one where the run may mount it, and one that says
/// so in every other round.
pub(super) fn full(stage: &Stage, seed: u64, faults: u64) -> Figures {
    let mut round = Round::on_sqlite(stage, seed);
    let place = tempfile::Builder::new().prefix("capful-faults.").tempdir().unwrap();
    if round.chance.percent(50)
        && let Some(small) = SmallDisk::mount(place.path())
    {
        return really_full(round, &small);
    }
    failing(round, faults, |chance| {
        let after = u32::try_from(chance.from(0..20)).unwrap();
        let times = *chance.one(&[1, 3, FOR_EVER, FOR_EVER]);
        let is_short = chance.percent(50);
        let calls = WRITE | TRUNCATE;
        Failing { calls, error: ENOSPC, after, times, is_short, files: EVERY_FILE }
    })
}

fn failing(
    mut round: Round<'_>,
    faults: u64,
    draw: impl Fn(&mut crate::chance::Chance) -> Failing,
) -> Figures {
    let disk = Disk::new(round.place.path());
    let stage = round.stage;
    let program = disk.under(&stage.program, stage.preload(), &round.file());
    let Some(service) = round.serve(&program) else { return round.end(None) };
    let work = round.work(&[&service]);
    let (entries, ()) = work.run(|| {
        for _ in 0..faults {
            round.pass_with(&work, 2..30);
            let failing = draw(&mut round.chance);
            fails_once(&mut round, (&disk, failing), &work, &service);
            round.figures.faults += 1;
        }
        round.pass_with(&work, 10..40);
    });
    round.take(entries);
    ended(round, service)
}

/// The disk fails, is seen to fail, and is well again.
fn fails_once(
    round: &mut Round<'_>,
    (disk, failing): (&Disk, Failing),
    work: &Work,
    service: &Service,
) {
    disk.fail(failing);
    let begun = Instant::now();
    while disk.failed() == 0 && begun.elapsed() < Duration::from_secs(3) {
        std::thread::sleep(Duration::from_millis(2));
    }
    round.pass(50..400);
    if failing.stops_every_write() && !is_seen(work, service) {
        round.figures.otherwise(format!("/readyz says 200, and no write succeeds: {failing:?}"));
    }
    disk.heal();
    is_well(round, work, service, &format!("the disk was well again ({failing:?})"));
}

/// Whether `/readyz` says that it is not ready, once a request found that out.
fn is_seen(work: &Work, service: &Service) -> bool {
    let before = work.uncertain.load(SeqCst);
    let begun = Instant::now();
    while begun.elapsed() < SEEN {
        if service.ready().is_some_and(|answer| answer.status == 503) {
            return true;
        }
        std::thread::sleep(Duration::from_millis(30));
    }
    // Where nobody wrote, nobody could know.
    work.uncertain.load(SeqCst) == before
}

/// Everything works again, and `/readyz` says so.
fn is_well(round: &mut Round<'_>, work: &Work, service: &Service, after: &str) {
    round.is_back(work, after);
    if !service.is_ready_within(READY) {
        round.figures.otherwise(format!("/readyz is not 200 for {READY:?} after {after}"));
    }
}

/// The service that lived through it is killed or stopped, and the shop is opened again on a disk
/// that is well.
fn ended(mut round: Round<'_>, service: Service) -> Figures {
    if round.chance.percent(50) {
        service.kill();
    } else if let Err(why) = service.stop() {
        round.figures.otherwise(why);
    }
    let service = round.open();
    if let Some(service) = &service {
        round.judge(service);
    }
    round.end(service)
}

/// A file system of a few MiB in memory; taken away with it.
struct SmallDisk(PathBuf);

/// What fits into it.
const SIZE: usize = 6 << 20;

impl SmallDisk {
    /// Mounts one in a directory; nothing where that is not allowed.
    fn mount(place: &Path) -> Option<Self> {
        if !is_root() {
            return None;
        }
        let size = format!("size={SIZE}");
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &size, "tmpfs"]).arg(place);
        let output = mount.output().ok()?;
        output.status.success().then(|| Self(place.to_owned()))
    }

    /// Fills it up, but for so many bytes.
    fn fill(&self, but: u64) {
        let filler = self.0.join("filler");
        // The file is as long as what could be written.
        let _ = std::fs::write(&filler, vec![1; SIZE]);
        let file = std::fs::File::options().write(true).open(&filler).unwrap();
        let length = file.metadata().unwrap().len();
        file.set_len(length.saturating_sub(but)).unwrap();
    }

    fn make_room(&self) {
        std::fs::remove_file(self.0.join("filler")).unwrap();
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

fn really_full(mut round: Round<'_>, small: &SmallDisk) -> Figures {
    let file = small.0.join("shop.db");
    std::fs::copy(round.file(), &file).unwrap();
    round.url = format!("sqlite://{}", file.display());
    let Some(service) = round.open() else { return round.end(None) };
    let work = round.work(&[&service]);
    let (entries, ()) = work.run(|| {
        round.pass_with(&work, 2..30);
        let but = round.chance.from(0..100_000);
        small.fill(but);
        let (before, begun) = (work.uncertain.load(SeqCst), Instant::now());
        while work.uncertain.load(SeqCst) == before && begun.elapsed() < Duration::from_secs(10) {
            std::thread::sleep(Duration::from_millis(5));
        }
        round.pass(50..400);
        small.make_room();
        is_well(&mut round, &work, &service, "there was room again");
        round.figures.faults += 1;
        round.pass_with(&work, 10..40);
    });
    round.take(entries);
    ended(round, service)
}
