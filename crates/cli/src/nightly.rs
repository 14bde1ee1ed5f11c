//! Copies of the database that a service makes by itself, one each night, kept by their age.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use capful_store::{
    BackupKeep, BackupOptions, FreeSpace, Store, StoreError, checksum_of, free_space,
};
use chrono::{DateTime, NaiveDateTime, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

use crate::clock;

/// The hour of a shop's night at which its copy is made.
const HOUR: u32 = 3;

/// How often it is asked whether a copy is due; one that failed is tried again after an hour.
const ASKED_EVERY: Duration = Duration::from_secs(300);
const TRIED_AGAIN: Duration = Duration::from_secs(3600);

/// How a copy is named: by the moment it was made, in UTC.
const NAME: &str = "capful-%Y%m%dT%H%M%SZ.db";

/// What of a copy that a crash cut short lies about, and for how long it is left alone.
const PART: (&str, &str) = (".capful-", ".part");
const PART_KEPT: TimeDelta = TimeDelta::days(1);

/// Where copies are kept, and which.
#[derive(Debug, Clone)]
pub(crate) struct Copies {
    pub directory: PathBuf,
    pub keep: BackupKeep,
}

/// What a night's work came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Night {
    pub made: PathBuf,
    pub dropped: usize,
}

impl Copies {
    /// Makes a copy whenever one is due; for ever.
    pub(crate) async fn keep_making(&self, store: &Store) {
        loop {
            let wait = match self.make_due(store, clock::now(), &free_space).await {
                Ok(None) => ASKED_EVERY,
                Ok(Some(night)) => {
                    let Night { made, dropped } = night;
                    tracing::info!(copy = %made.display(), dropped, "copied the database");
                    store.backups().succeeded(clock::now());
                    ASKED_EVERY
                }
                Err(error) => {
                    tracing::error!(%error, "the database was not copied");
                    store.backups().failed(clock::now());
                    TRIED_AGAIN
                }
            };
            tokio::time::sleep(wait).await;
        }
    }

    /// Makes a copy where one is due, and then throws those away that are no longer kept: not
    /// before the new one was looked over and is well.
    pub(crate) async fn make_due(
        &self,
        store: &Store,
        now: DateTime<Utc>,
        free_space: FreeSpace<'_>,
    ) -> Result<Option<Night>, StoreError> {
        let shops = store.shops().await?;
        let Some((_, shop)) = shops.first() else { return Ok(None) };
        make_directory(&self.directory).map_err(|error| self.failed(&error))?;
        let before = self.made().map_err(|error| self.failed(&error))?;
        if !is_due(before.range(..=now).next_back().copied(), now, shop.timezone) {
            return Ok(None);
        }
        self.forget_parts(now).map_err(|error| self.failed(&error))?;
        let made = self.file(now);
        let options = BackupOptions { free_space, ..BackupOptions::default() };
        let verified = store.backup(&made, &options).await?;
        if let Some(wrong) = verified.wrong().first() {
            let text = format!(
                "{} was written, and the books in it are wrong as they are in the database: older \
                 copies are all kept ({wrong})",
                made.display()
            );
            return Err(StoreError::Refused(text));
        }
        let all = self.made().map_err(|error| self.failed(&error))?;
        let dropped = self.keep.dropped(&all, now);
        for old in &dropped {
            self.forget(&self.file(*old)).map_err(|error| self.failed(&error))?;
        }
        Ok(Some(Night { made, dropped: dropped.len() }))
    }

    fn failed(&self, error: &io::Error) -> StoreError {
        StoreError::Refused(format!("{}: {error}", self.directory.display()))
    }

    fn file(&self, at: DateTime<Utc>) -> PathBuf {
        self.directory.join(at.format(NAME).to_string())
    }

    /// When the copies were made that lie in the directory: nothing else in it is ever touched.
    fn made(&self) -> io::Result<BTreeSet<DateTime<Utc>>> {
        let mut made = BTreeSet::new();
        for entry in fs::read_dir(&self.directory)? {
            made.extend(entry?.file_name().to_str().and_then(moment_of));
        }
        Ok(made)
    }

    fn forget(&self, copy: &Path) -> io::Result<()> {
        fs::remove_file(copy)?;
        match fs::remove_file(checksum_of(copy)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    /// Throws away what copies left that were cut short, a day after.
    fn forget_parts(&self, now: DateTime<Utc>) -> io::Result<()> {
        for entry in fs::read_dir(&self.directory)? {
            let entry = entry?;
            let name = entry.file_name();
            let name = name.to_string_lossy();
            let age = now - DateTime::<Utc>::from(entry.metadata()?.modified()?);
            if name.starts_with(PART.0) && name.contains(PART.1) && age > PART_KEPT {
                fs::remove_file(entry.path())?;
            }
        }
        Ok(())
    }
}

/// When a copy of this name was made; nothing where it is not the name of one.
fn moment_of(name: &str) -> Option<DateTime<Utc>> {
    let at = NaiveDateTime::parse_from_str(name, NAME).ok()?.and_utc();
    Some(at).filter(|at| at.format(NAME).to_string() == name)
}

/// Whether a copy is due: the last one was made before the last night's hour in the shop's zone.
fn is_due(last: Option<DateTime<Utc>>, now: DateTime<Utc>, zone: Tz) -> bool {
    let Some(last) = last else { return true };
    let today = now.with_timezone(&zone).date_naive();
    let hour = NaiveTime::from_hms_opt(HOUR, 0, 0).unwrap_or_default();
    let nights = [Some(today), today.pred_opt()].into_iter().flatten();
    // An hour that the clocks pass over is taken as UTC has it: a copy is made all the same.
    let at = |day: chrono::NaiveDate| {
        let local = day.and_time(hour);
        zone.from_local_datetime(&local).earliest().map_or(local.and_utc(), |at| at.to_utc())
    };
    nights.map(at).find(|night| *night <= now).is_some_and(|night| last < night)
}

/// Makes a directory that only its owner looks into, where there is none.
fn make_directory(directory: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(directory)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::database;
    use capful_demo::demo_shop;
    use chrono_tz::America::Halifax;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().unwrap()
    }

    #[test]
    fn a_copy_is_due_once_a_night_of_the_shop() {
        // Three o'clock in Halifax is 07:00 in UTC in winter, and 06:00 in summer.
        let due = |last: &str, now: &str| is_due(Some(at(last)), at(now), Halifax);
        assert!(is_due(None, at("2026-03-02T12:00:00Z"), Halifax));
        assert!(!due("2026-03-01T07:00:01Z", "2026-03-02T06:59:59Z"));
        assert!(due("2026-03-01T07:00:01Z", "2026-03-02T07:00:00Z"));
        assert!(!due("2026-03-02T07:00:00Z", "2026-03-02T23:00:00Z"));
        assert!(due("2026-07-01T06:00:00Z", "2026-07-02T06:00:00Z"));
        assert!(due("2026-02-01T07:00:00Z", "2026-03-02T12:00:00Z"), "it was off for a month");
        // Auckland goes on to summer time at two, and New York at two: three is there on both.
        let spring = at("2026-03-08T07:00:00Z");
        assert!(is_due(Some(at("2026-03-07T08:00:00Z")), spring, chrono_tz::America::New_York));
    }

    #[test]
    fn only_names_of_copies_are_taken_for_copies() {
        let read = moment_of("capful-20260302T070001Z.db");
        assert_eq!(read, Some(at("2026-03-02T07:00:01Z")));
        for odd in [
            "capful-20260302T070001Z.db.sha256",
            "capful-20260302T070001Z.db.old",
            "capful-2026032T070001Z.db",
            "capful.db",
            "capful-20260230T070001Z.db",
            "CAPFUL-20260302T070001Z.db",
        ] {
            assert_eq!(moment_of(odd), None, "{odd}");
        }
    }

    /// A database with the demo shop, and a directory for copies that is not there yet.
    async fn shop(place: &Path) -> (Store, Copies) {
        let url = format!("sqlite:{}", place.join("shop.db").display());
        let store = Store::open(&url).await.unwrap();
        store.migrate().await.unwrap();
        let now = at("2026-03-02T12:00:00Z");
        database::import(&store, None, demo_shop(now.date_naive(), 1), now).await.unwrap();
        let directory = place.join("copies").join("nightly");
        (store, Copies { directory, keep: "2d 1m".parse().unwrap() })
    }

    fn names(copies: &Copies) -> Vec<String> {
        let entries = fs::read_dir(&copies.directory).unwrap();
        let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let mut names: Vec<String> = names.filter(|name| !name.ends_with(".sha256")).collect();
        names.sort();
        names
    }

    #[tokio::test]
    async fn nights_make_copies_that_are_kept_by_age_and_nothing_else_is_touched() {
        let place = tempfile::tempdir().unwrap();
        let (store, copies) = shop(place.path()).await;
        for day in 2..=5 {
            let now = at(&format!("2026-03-{day:02}T12:00:00Z"));
            let night = copies.make_due(&store, now, &free_space).await.unwrap();
            assert!(night.is_some(), "{day}");
            assert_eq!(copies.make_due(&store, now, &free_space).await.unwrap(), None);
            fs::write(copies.directory.join("letter.txt"), "dear gulls").unwrap();
        }
        let left = ["capful-20260304T120000Z.db", "capful-20260305T120000Z.db", "letter.txt"];
        assert_eq!(names(&copies), left);
        let last = capful_store::verify_backup(&copies.directory.join(left[1])).await.unwrap();
        assert!(last.is_well() && last.has_checksum, "{last:?}");
        assert_eq!(fs::read_dir(&copies.directory).unwrap().count(), 5);
    }

    #[tokio::test]
    async fn a_disk_that_is_short_keeps_the_old_copies_and_is_told() {
        let place = tempfile::tempdir().unwrap();
        let (store, mut copies) = shop(place.path()).await;
        copies.keep = "1d".parse().unwrap();
        copies.make_due(&store, at("2026-03-02T12:00:00Z"), &free_space).await.unwrap();
        let before = names(&copies);
        let full = copies.make_due(&store, at("2026-03-03T12:00:00Z"), &|_| Ok(4_096)).await;
        let full = full.unwrap_err().to_string();
        assert!(full.contains("needed and 4.0 kB are free"), "{full}");
        assert_eq!(names(&copies), before);
    }
}
