//! Files that hold a shop: readable by their owner alone, written whole or not at all, and never
//! begun where the disk is short.

use std::fs::{self, File, OpenOptions, Permissions};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use tempfile::TempPath;

use crate::db::error::StoreError;

/// The rights of a file that holds a shop: its owner reads and writes it, and nobody else.
#[cfg(unix)]
const OWN: u32 = 0o600;

/// Begins the names of files that are not whole yet.
pub(crate) const PART: &str = ".capful-";

/// How many bytes are free on the disk of a directory.
pub type FreeSpace<'f> = &'f (dyn Fn(&Path) -> io::Result<u64> + Send + Sync);

/// The bytes that are free on the disk of a directory, as the system tells.
///
/// # Errors
/// Where the system does not say.
pub fn free_space(directory: &Path) -> io::Result<u64> {
    #[cfg(unix)]
    {
        let disk = rustix::fs::statvfs(directory)?;
        Ok(disk.f_bavail.saturating_mul(disk.f_frsize))
    }
    #[cfg(not(unix))]
    {
        fs::metadata(directory).map(|_| u64::MAX)
    }
}

/// Refuses to begin what the disk has too little room for.
pub(crate) fn hold_room(file: &Path, needed: u64, free: FreeSpace<'_>) -> Result<(), StoreError> {
    let directory = directory_of(file);
    let free = free(&directory).map_err(|error| file_error(&directory, &error))?;
    if free >= needed {
        return Ok(());
    }
    let text = format!(
        "the disk of {} is too full: {} are needed and {} are free, so nothing was written",
        directory.display(),
        bytes_text(needed),
        bytes_text(free)
    );
    Err(StoreError::Refused(text))
}

/// Bytes as a person reads them, with the exact number behind it where that was rounded.
#[must_use]
pub fn bytes_text(bytes: u64) -> String {
    const UNITS: [&str; 4] = ["kB", "MB", "GB", "TB"];
    if bytes < 1_000 {
        return format!("{bytes} B");
    }
    let (mut unit, mut whole) = (0, u128::from(bytes) * 10 / 1_000);
    while whole >= 10_000 && unit + 1 < UNITS.len() {
        whole /= 1_000;
        unit += 1;
    }
    format!("{}.{} {}", whole / 10, whole % 10, UNITS[unit])
}

/// The directory that a file lies in.
pub(crate) fn directory_of(file: &Path) -> PathBuf {
    match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    }
}

/// Whether two names are of one file.
pub(crate) fn is_same(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// What went wrong with a file.
pub(crate) fn file_error(file: &Path, error: &io::Error) -> StoreError {
    StoreError::Refused(format!("{}: {error}", file.display()))
}

/// A file's name with this behind it.
pub(crate) fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Makes an empty file that only its owner reads, where there is none.
pub(crate) fn make_private(file: &Path) -> io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, OWN);
    match options.open(file) {
        Err(error) if error.kind() != io::ErrorKind::AlreadyExists => Err(error),
        _ => Ok(()),
    }
}

/// The rights of a file, where others than its owner have any.
pub(crate) fn wide_rights(file: &Path) -> Option<u32> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = fs::metadata(file).ok()?.permissions().mode() & 0o777;
        Some(mode).filter(|mode| mode & 0o077 != 0)
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        None
    }
}

/// Lets only its owner read a file.
pub(crate) fn keep_private(file: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(file, Permissions::from_mode(OWN))
    }
    #[cfg(not(unix))]
    {
        fs::metadata(file).map(|_| ())
    }
}

/// A file on its way to become `target`: beside it, empty, private, and taken away again unless it
/// is put in place.
pub(crate) fn part_of(target: &Path) -> Result<TempPath, StoreError> {
    let directory = directory_of(target);
    // Whole paths: a part is named to SQLite, which has rules of its own for some names.
    let whole = fs::canonicalize(&directory).map_err(|error| file_error(&directory, &error))?;
    let part = tempfile::Builder::new().prefix(PART).suffix(".part").tempfile_in(&whole);
    Ok(part.map_err(|error| file_error(&whole, &error))?.into_temp_path())
}

/// Puts a whole file in its place, so that it is there after a power cut too. Where something
/// stands in that place, it is written over only if it may be.
pub(crate) fn put(part: TempPath, target: &Path, may_replace: bool) -> Result<(), StoreError> {
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::AlreadyExists => already_there(target),
        _ => file_error(target, &error),
    };
    sync(&part).map_err(failed)?;
    match may_replace {
        true => part.persist(target),
        false => part.persist_noclobber(target),
    }
    .map_err(|error| failed(error.error))?;
    sync_directory(target).map_err(failed)
}

/// That a file would be written over.
pub(crate) fn already_there(target: &Path) -> StoreError {
    let text = format!(
        "{} is there already, so nothing was written: name another file, or replace it with \
         --force",
        target.display()
    );
    StoreError::Refused(text)
}

/// Waits until a file is on the disk.
pub(crate) fn sync(file: &Path) -> io::Result<()> {
    File::open(file)?.sync_all()
}

/// Waits until the name of a file is on the disk.
pub(crate) fn sync_directory(file: &Path) -> io::Result<()> {
    #[cfg(unix)]
    File::open(directory_of(file))?.sync_all()?;
    Ok(())
}

/// The SHA-256 of a file, in small hexadecimal digits.
pub(crate) fn sha256_of(file: &Path) -> io::Result<String> {
    let (mut file, mut hash) = (File::open(file)?, Sha256::new());
    let mut block = vec![0; 1 << 16];
    loop {
        let read = file.read(&mut block)?;
        if read == 0 {
            let digest = hash.finalize();
            return Ok(digest.iter().map(|byte| format!("{byte:02x}")).collect());
        }
        hash.update(&block[..read]);
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_said_so_that_a_person_reads_them() {
        for (bytes, text) in [
            (0, "0 B"),
            (999, "999 B"),
            (1_000, "1.0 kB"),
            (999_999, "999.9 kB"),
            (1_000_000, "1.0 MB"),
            (1_460_000, "1.4 MB"),
            (2_000_000_000, "2.0 GB"),
            (3_500_000_000_000_000, "3500.0 TB"),
        ] {
            assert_eq!(bytes_text(bytes), text);
        }
    }

    #[test]
    fn a_disk_that_is_short_is_told_with_both_figures() {
        let file = Path::new("copies/capful.db");
        assert!(hold_room(file, 10, &|_| Ok(10)).is_ok());
        let refused = hold_room(file, 1_460_000, &|_| Ok(4_096)).unwrap_err().to_string();
        assert_eq!(
            refused,
            "the disk of copies is too full: 1.4 MB are needed and 4.0 kB are free, so nothing \
             was written"
        );
    }

    #[test]
    fn a_part_is_private_and_put_in_place_whole_or_taken_away() {
        let place = tempfile::tempdir().unwrap();
        let target = place.path().join("copy.db");
        let names = || fs::read_dir(place.path()).unwrap().count();
        let part = part_of(&target).unwrap();
        assert_eq!((wide_rights(&part), names()), (None, 1));
        drop(part);
        assert_eq!(names(), 0);
        put(part_of(&target).unwrap(), &target, false).unwrap();
        assert_eq!((wide_rights(&target), names()), (None, 1));
        let twice = put(part_of(&target).unwrap(), &target, false).unwrap_err().to_string();
        assert!(twice.contains("is there already"), "{twice}");
        assert_eq!(names(), 1);
        put(part_of(&target).unwrap(), &target, true).unwrap();
    }
}
