//! A disk that fails when it is told to: steers the preloaded library.

use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

use crate::chance::Chance;
use crate::program::Program;

/// No space left on the device.
pub const ENOSPC: u32 = 28;
/// An error of the device.
pub const EIO: u32 = 5;
/// A file system that is read-only.
pub const EROFS: u32 = 30;

/// Calls that fail.
pub const WRITE: u32 = 1;
pub const SYNC: u32 = 2;
pub const READ: u32 = 4;
pub const TRUNCATE: u32 = 8;
pub const OPEN: u32 = 16;

/// Until it is told otherwise.
pub const FOR_EVER: u32 = u32::MAX;

/// The database and all that lies beside it.
pub const EVERY_FILE: u32 = 7;

/// How the disk fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Failing {
    pub calls: u32,
    pub error: u32,
    /// Calls that still succeed.
    pub after: u32,
    /// Calls that fail then.
    pub times: u32,
    pub is_short: bool,
    pub files: u32,
}

impl Failing {
    /// One of the ways in which disks fail.
    pub fn draw(chance: &mut Chance) -> Self {
        let ways = [
            (WRITE | TRUNCATE, ENOSPC),
            (WRITE, ENOSPC),
            (WRITE, EIO),
            (SYNC, EIO),
            (WRITE | SYNC, EIO),
            (WRITE | SYNC | TRUNCATE | OPEN, EROFS),
            (READ, EIO),
            (WRITE | SYNC | READ, EIO),
        ];
        let (calls, error) = *chance.one(&ways);
        let after = u32::try_from(chance.from(0..12)).unwrap();
        let times = *chance.one(&[1, 1, 2, 5, 40, FOR_EVER, FOR_EVER]);
        let files = *chance.one(&[EVERY_FILE, EVERY_FILE, 1, 2]);
        Self { calls, error, after, times, is_short: chance.percent(30), files }
    }

    /// Whether no write can succeed while it lasts.
    pub const fn stops_every_write(&self) -> bool {
        self.calls & WRITE != 0 && self.times == FOR_EVER && self.files == EVERY_FILE
    }
}

/// The disk of one service.
#[derive(Debug)]
pub struct Disk {
    control: File,
    path: PathBuf,
}

impl Disk {
    /// A disk that is well.
    pub fn new(place: &Path) -> Self {
        let path = place.join("control");
        std::fs::write(&path, [0; 32]).unwrap();
        let control = File::options().read(true).write(true).open(&path).unwrap();
        Self { control, path }
    }

    /// The program with its database on this disk.
    pub fn under(&self, program: &Program, library: &Path, file: &Path) -> Program {
        program.with(&[
            ("LD_PRELOAD", library.to_str().unwrap()),
            ("FAULTS_FILE", file.to_str().unwrap()),
            ("FAULTS_CONTROL", self.path.to_str().unwrap()),
        ])
    }

    /// From now on it fails.
    pub fn fail(&self, failing: Failing) {
        let Failing { calls, error, after, times, is_short, files } = failing;
        self.set(1, &[error, after, times, is_short.into(), files, 0, 0]);
        self.set(0, &[calls]);
    }

    /// From now on it is well.
    pub fn heal(&self) {
        self.set(0, &[0]);
    }

    /// Calls that failed since it was told to fail.
    pub fn failed(&self) -> u32 {
        let mut number = [0; 4];
        self.control.read_exact_at(&mut number, 24).unwrap();
        u32::from_le_bytes(number)
    }

    fn set(&self, place: u64, numbers: &[u32]) {
        let bytes: Vec<u8> = numbers.iter().flat_map(|number| number.to_le_bytes()).collect();
        self.control.write_all_at(&bytes, place * 4).unwrap();
    }
}
