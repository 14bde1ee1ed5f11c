//! Copies of a whole database: one SQLite file that holds it as it stood at one moment, with a
//! checksum beside it, and the looking over of such a file.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use sea_orm::{DatabaseConnection, DbBackend};

use crate::books::check::{self, Checked};
use crate::db::disk::{self, FreeSpace, file_error};
use crate::db::error::StoreError;
use crate::db::error::failed;
use crate::db::pending_steps as steps;
use crate::db::schema::{self, Schema};
use crate::db::sqlite_file;
use crate::db::store::Store;
use crate::queries::facts;
use crate::upkeep::inspect::{self, Inspection};
use crate::upkeep::relocate;
use crate::upkeep::transfer::Progress;

/// What stands behind the name of a copy in the name of its checksum.
const CHECKSUM: &str = ".sha256";

/// How a copy is made.
#[derive(Clone, Copy)]
pub struct BackupOptions<'o> {
    /// Whether a file that stands in its place is written over.
    pub may_replace: bool,
    /// How room on the disk is asked for.
    pub free_space: FreeSpace<'o>,
    /// Is told how far it is, where rows are copied one by one.
    pub progress: Progress<'o>,
}

impl Default for BackupOptions<'_> {
    fn default() -> Self {
        Self { may_replace: false, free_space: &disk::free_space, progress: &|_, _| {} }
    }
}

/// What looking over a copy found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verified {
    /// How many bytes it has.
    pub bytes: u64,
    /// Its SHA-256, in small hexadecimal digits.
    pub sha256: String,
    /// Whether a checksum lies beside it, and is the same.
    pub has_checksum: bool,
    /// Steps of the migrations that it has not made: it was made by an older Capful.
    pub steps_behind: usize,
    /// The file, its indexes, kept answers and the list of who did what.
    pub inspection: Inspection,
    /// Each shop by its name, its books added up again; none where its tables are older.
    pub shops: Vec<(String, Checked)>,
}

impl Verified {
    /// Whether nothing was found.
    #[must_use]
    pub fn is_well(&self) -> bool {
        self.is_whole() && self.wrong().is_empty()
    }

    /// Whether it is the file that was written, and can be read from end to end.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.inspection.damaged.is_empty()
    }

    /// Containers whose books do not add up, and all else that is wrong; a line for each.
    #[must_use]
    pub fn wrong(&self) -> Vec<String> {
        let mut lines = self.inspection.wrong.clone();
        for (name, checked) in &self.shops {
            lines.extend(checked.wrong.iter().chain(&checked.otherwise).map(|found| {
                format!(
                    "{name}: container {}: the books say {}, it adds up to {} (ledger units)",
                    found.container,
                    found.left.ledger_units(),
                    found.expected.ledger_units()
                )
            }));
        }
        lines
    }
}

impl Store {
    /// Writes the database as it stands at one moment into a file, whole or not at all, while
    /// others write to it; looks that file over before it is given its name.
    ///
    /// SQLite is copied by itself, and PostgreSQL row by row into a file of the same form.
    ///
    /// # Errors
    /// [`StoreError::Refused`] where the file is there already, the disk is too full, or the
    /// database is damaged; [`StoreError::Database`].
    pub async fn backup(
        &self,
        file: &Path,
        options: &BackupOptions<'_>,
    ) -> Result<Verified, StoreError> {
        if file.exists() && !options.may_replace {
            return Err(disk::already_there(file));
        }
        let own = self.sqlite_file();
        if own.as_ref().is_some_and(|own| disk::is_same(own, file)) {
            let text = format!("{} is the database itself: name another file", file.display());
            return Err(StoreError::Refused(text));
        }
        if steps::pending(&self.readers).await?.len() == steps::all() {
            let text = "there are no tables in this database yet, so there is nothing to copy";
            return Err(StoreError::Refused(text.to_owned()));
        }
        disk::hold_room(file, self.size().await?, options.free_space)?;
        let part = disk::part_of(file)?;
        match own {
            Some(own) => sqlite_file::copy_online(&own, &part).await?,
            None => relocate::into_part(self, &part, options.progress).await?,
        }
        disk::sync(&part).map_err(|error| file_error(file, &error))?;
        let mut verified = verify_file(&part).await?;
        if let Some(damage) = verified.inspection.damaged.first() {
            let text = format!("the database is damaged, so no copy of it was kept: {damage}");
            return Err(StoreError::Refused(text));
        }
        let checksum = checksum_of(file);
        // A checksum never stands beside a file that it is not of: it is taken away first.
        if options.may_replace && checksum.exists() && file.exists() {
            fs::remove_file(&checksum).map_err(|error| file_error(&checksum, &error))?;
            disk::put(part, file, true)?;
            write_checksum(file, &verified.sha256)?;
        } else {
            write_checksum(file, &verified.sha256)?;
            disk::put(part, file, options.may_replace)?;
        }
        verified.has_checksum = true;
        Ok(verified)
    }

    /// The file of an SQLite database.
    pub(crate) fn sqlite_file(&self) -> Option<PathBuf> {
        if self.readers.get_database_backend() != DbBackend::Sqlite {
            return None;
        }
        let options = self.readers.get_sqlite_connection_pool().connect_options();
        Some(options.get_filename().to_owned())
    }

    /// Bytes that the database takes.
    pub(crate) async fn size(&self) -> Result<u64, StoreError> {
        const POSTGRES: &str = "SELECT COALESCE(SUM(pg_total_relation_size(oid)), 0)::bigint \
             FROM pg_class WHERE relkind = 'r' \
             AND relnamespace = current_schema()::text::regnamespace";
        const SQLITE: &str = "SELECT (SELECT page_count FROM pragma_page_count) \
             * (SELECT page_size FROM pragma_page_size)";
        let sql = if self.sqlite_file().is_some() { SQLITE } else { POSTGRES };
        let rows = schema::rows(&self.readers, sql).await?;
        let size = rows.first().map(|row| row.try_get_by_index::<i64>(0)).transpose();
        Ok(size.map_err(failed)?.and_then(|size| u64::try_from(size).ok()).unwrap_or_default())
    }
}

/// The file that holds a copy's checksum.
#[must_use]
pub fn checksum_of(file: &Path) -> PathBuf {
    disk::beside(file, CHECKSUM)
}

/// Writes a checksum beside a file as `sha256sum` does, so that `sha256sum --check` reads it.
fn write_checksum(file: &Path, sha256: &str) -> Result<(), StoreError> {
    let path = checksum_of(file);
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let part = disk::part_of(&path)?;
    let written = fs::OpenOptions::new().write(true).open(&part);
    let written = written.and_then(|mut part| writeln!(part, "{sha256}  {name}"));
    written.map_err(|error| file_error(&path, &error))?;
    disk::put(part, &path, true)
}

/// The checksum that lies beside a file, where one does.
fn read_checksum(file: &Path) -> Result<Option<String>, StoreError> {
    let path = checksum_of(file);
    match fs::read_to_string(&path) {
        Ok(text) => Ok(Some(text.split_whitespace().next().unwrap_or_default().to_owned())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(file_error(&path, &error)),
    }
}

/// Looks a copy over without changing it: its checksum, the file, its indexes, and the books of
/// every shop in it.
///
/// # Errors
/// [`StoreError::Refused`] where it cannot be read, is no copy of a database, or was made by a
/// later Capful. What is wrong with it is no error but the answer.
pub async fn verify_backup(file: &Path) -> Result<Verified, StoreError> {
    if let Some(beside) = sqlite_file::left_beside(file).first() {
        let text = format!(
            "{} lies beside it, so {} is a database that is in use or was not closed, and no \
             copy: `capful backup` makes one",
            beside.display(),
            file.display()
        );
        return Err(StoreError::Refused(text));
    }
    let mut verified = verify_file(file).await?;
    match read_checksum(file)? {
        Some(checksum) if checksum == verified.sha256 => verified.has_checksum = true,
        Some(checksum) => verified.inspection.damaged.insert(
            0,
            format!(
                "the file is not as it was written: its SHA-256 is {}, and {} says {checksum}",
                verified.sha256,
                checksum_of(file).display()
            ),
        ),
        None => {}
    }
    Ok(verified)
}

/// The same, without asking what lies beside the file.
pub(crate) async fn verify_file(file: &Path) -> Result<Verified, StoreError> {
    let failed_file = |error: io::Error| file_error(file, &error);
    let bytes = fs::metadata(file).map_err(failed_file)?.len();
    let sha256 = disk::sha256_of(file).map_err(failed_file)?;
    let mut verified = Verified { bytes, sha256, ..Verified::default() };
    let opened = async {
        let copy = sqlite_file::open_copy(file).await?;
        schema::sqlite_tables(&copy).await.map(|tables| (copy, tables))
    };
    let copy = match opened.await {
        Ok((copy, tables)) if !tables.is_empty() => copy,
        Ok(_) => return Err(no_copy(file)),
        Err(error) => {
            verified.inspection.is_file = true;
            verified.inspection.damaged.push(error.to_string());
            return Ok(verified);
        }
    };
    let looked = look_over(&copy, &mut verified).await;
    if verified.steps_behind == steps::all() {
        return Err(no_copy(file));
    }
    // What fails to close is closed by its end.
    let _ = copy.close().await;
    looked.map(|()| verified)
}

fn no_copy(file: &Path) -> StoreError {
    StoreError::Refused(format!("{} holds no tables of Capful's", file.display()))
}

async fn look_over(copy: &DatabaseConnection, verified: &mut Verified) -> Result<(), StoreError> {
    let tx = facts::begin_reading(copy).await?;
    verified.inspection = inspect::inspect_file(&tx).await?;
    if !verified.is_whole() {
        return Ok(());
    }
    verified.steps_behind = steps::pending(&tx).await?.len();
    if verified.steps_behind == 0 {
        verified.inspection = inspect::inspect(&tx, &Schema::of_migrations().await?).await?;
        for (shop, settings) in facts::shops(&tx).await? {
            verified.shops.push((settings.name, check::add_up(&tx, shop).await?));
        }
    }
    tx.commit().await.map_err(failed)
}
