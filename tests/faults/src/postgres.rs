//! A PostgreSQL of this run's own, which can be stopped, killed and started again.

use std::net::TcpListener;
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering::SeqCst};
use std::time::{Duration, Instant};

use sea_orm::{ConnectionTrait, Database};
use tempfile::TempDir;

use crate::stage::new_place;

/// How it is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// Connections are ended, what is committed is written.
    Fast,
    /// At once, as in a crash.
    Immediate,
    /// Killed, and its children find out.
    Kill,
}

/// A PostgreSQL of its own.
#[derive(Debug)]
pub struct Cluster {
    programs: PathBuf,
    place: TempDir,
    pub port: u16,
    user: Option<(u32, u32)>,
    server: Mutex<Option<Child>>,
    copies: AtomicU64,
}

impl Cluster {
    /// Makes one and starts it; nothing where PostgreSQL's programs are not there.
    pub fn start() -> Option<Self> {
        let programs = programs()?;
        let place = new_place();
        let user = unprivileged();
        if let Some((user, group)) = user {
            chown(place.path(), Some(user), Some(group)).unwrap();
        }
        let port = free_port();
        let (server, copies) = (Mutex::new(None), AtomicU64::new(0));
        let cluster = Self { programs, place, port, user, server, copies };
        let data = cluster.data();
        let args = ["-U", "capful", "-A", "trust", "-E", "UTF8", "--locale=C", "-D", &data];
        let made = cluster.command("initdb").args(args).stdout(Stdio::null()).status().unwrap();
        assert!(made.success(), "initdb failed");
        cluster.begin();
        Some(cluster)
    }

    fn data(&self) -> String {
        self.place.path().join("data").display().to_string()
    }

    fn command(&self, name: &str) -> Command {
        let mut command = Command::new(self.programs.join(name));
        if let Some((user, group)) = self.user {
            command.uid(user).gid(group);
        }
        command.current_dir(self.place.path()).stdin(Stdio::null());
        command
    }

    /// Starts it and waits until it answers. What a killed one left behind may take a moment.
    pub fn begin(&self) {
        let begun = Instant::now();
        let mut child = self.spawn();
        while !self.answers() {
            assert!(begun.elapsed() < Duration::from_secs(60), "PostgreSQL does not start");
            if child.try_wait().unwrap().is_some() {
                child = self.spawn();
            }
            std::thread::sleep(Duration::from_millis(30));
        }
        *self.server.lock().unwrap() = Some(child);
    }

    fn spawn(&self) -> Child {
        let log = self.place.path().join("log");
        let log = std::fs::File::options().create(true).append(true).open(log).unwrap();
        let mut postgres = self.command("postgres");
        postgres.args(["-D", &self.data(), "-c", &format!("port={}", self.port)]);
        postgres.args(["-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories="]);
        // In recovery, a sync of the whole file system in place of one for each file.
        postgres.args(["-c", "max_connections=200", "-c", "recovery_init_sync_method=syncfs"]);
        postgres.stdout(Stdio::null()).stderr(log).spawn().unwrap()
    }

    fn answers(&self) -> bool {
        self.sql("postgres", "SELECT 1").is_ok()
    }

    /// Stops it and waits until it has.
    pub fn stop(&self, how: Stop) {
        let Some(mut child) = self.server.lock().unwrap().take() else { return };
        let id = child.id().to_string();
        let signal = match how {
            Stop::Fast => "-INT",
            Stop::Immediate => "-QUIT",
            Stop::Kill => "-KILL",
        };
        Command::new("kill").args([signal, &id]).status().unwrap();
        child.wait().unwrap();
    }

    /// The address of a database in it.
    pub fn url(&self, database: &str) -> String {
        url(self.port, database)
    }

    /// Makes a database.
    pub fn create(&self, database: &str, template: &str) {
        let sql = format!("CREATE DATABASE {database} TEMPLATE {template}");
        self.sql("postgres", &sql).unwrap();
    }

    /// Copies the shop's database; gives the address of the copy.
    pub fn copy_shop(&self) -> String {
        let name = format!("round_{}", self.copies.fetch_add(1, SeqCst));
        self.create(&name, "first");
        self.url(&name)
    }

    /// Throws a copy away.
    pub fn forget(&self, url: &str) {
        let name = url.rsplit('/').next().unwrap();
        let _ = self.sql("postgres", &format!("DROP DATABASE {name} WITH (FORCE)"));
    }

    fn sql(&self, database: &str, sql: &str) -> Result<(), sea_orm::DbErr> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let mut options = sea_orm::ConnectOptions::new(self.url(database));
        options.max_connections(1).connect_timeout(Duration::from_secs(2));
        runtime.block_on(async {
            let connection = Database::connect(options).await?;
            let done = connection.execute_unprepared(sql).await;
            connection.close().await?;
            done.map(|_| ())
        })
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.stop(Stop::Immediate);
    }
}

/// The address of a database behind a port of this machine.
pub fn url(port: u16, database: &str) -> String {
    format!("postgres://capful@127.0.0.1:{port}/{database}")
}

/// Where PostgreSQL's programs are.
pub fn programs() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut places: Vec<PathBuf> = std::env::split_paths(&path).collect();
    if let Ok(versions) = std::fs::read_dir("/usr/lib/postgresql") {
        places.extend(versions.flatten().map(|version| version.path().join("bin")));
    }
    places.into_iter().find(|place| ["initdb", "postgres"].iter().all(|p| place.join(p).exists()))
}

/// Whether the run may do anything on this machine.
pub fn is_root() -> bool {
    std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0)
}

/// A user and a group that may not do everything, where the run may: PostgreSQL's own, or nobody.
pub fn unprivileged() -> Option<(u32, u32)> {
    if !is_root() {
        return None;
    }
    let users = std::fs::read_to_string("/etc/passwd").unwrap_or_default();
    let id = |name: &str| {
        let line = users.lines().find(|line| line.starts_with(&format!("{name}:")))?;
        let mut parts = line.split(':').skip(2).map(str::parse);
        Some((parts.next()?.ok()?, parts.next()?.ok()?))
    };
    id("postgres").or_else(|| id("nobody"))
}

/// A port that nobody listens on.
pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.local_addr().unwrap().port()
}

/// Gives a file or a directory to a user.
pub fn give(path: &Path, user: Option<(u32, u32)>) {
    if let Some((user, group)) = user {
        chown(path, Some(user), Some(group)).unwrap();
    }
}
