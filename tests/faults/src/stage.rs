//! What all rounds of a run share: the program, a shop to copy, and a PostgreSQL where one is
//! wanted.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use tempfile::TempDir;

use crate::books;
use crate::postgres::Cluster;
use crate::program::Program;
use crate::shop;

/// What there has to be room for in memory.
const ROOM_KIB: u64 = 1 << 20;

/// The root of the workspace.
const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

/// What all rounds share.
#[derive(Debug)]
pub struct Stage {
    pub program: Program,
    place: TempDir,
    sqlite: OnceLock<String>,
    postgres: OnceLock<(Cluster, String)>,
    preload: OnceLock<PathBuf>,
}

impl Stage {
    pub fn new(program: PathBuf) -> Self {
        let place = new_place();
        shop::write(&place.path().join("shop"));
        let (sqlite, postgres, preload) = (OnceLock::new(), OnceLock::new(), OnceLock::new());
        Self { program: Program::new(program), place, sqlite, postgres, preload }
    }

    /// Copies the shop's SQLite file; gives the token that goes with it.
    pub fn copy_shop(&self, file: &Path) -> String {
        let first = self.place.path().join("first.db");
        let token = self.sqlite.get_or_init(|| {
            let token = self.set_up(&format!("sqlite://{}", first.display()));
            books::gather(&first);
            token
        });
        std::fs::copy(&first, file).unwrap();
        token.clone()
    }

    /// A PostgreSQL of this run's own, and the token of the shop that its databases are copied
    /// from.
    pub fn postgres(&self) -> &(Cluster, String) {
        self.postgres.get_or_init(|| {
            let cluster = Cluster::start().unwrap();
            cluster.create("first", "template0");
            let token = self.set_up(&cluster.url("first"));
            (cluster, token)
        })
    }

    fn set_up(&self, url: &str) -> String {
        let folder = self.place.path().join("shop");
        let folder = folder.to_str().unwrap();
        self.program.run(&["import", folder, "--database", url]).unwrap();
        let create = ["token", "create", "--scope", "setup", "--database", url];
        self.program.run(&create).unwrap().trim().to_owned()
    }

    /// The library that lets the disk fail, compiled.
    pub fn preload(&self) -> &Path {
        self.preload.get_or_init(|| {
            let source = concat!(env!("CARGO_MANIFEST_DIR"), "/preload/faults.c");
            let library = self.place.path().join("faults.so");
            let mut cc = Command::new("cc");
            cc.args(["-O2", "-Wall", "-Werror", "-shared", "-fPIC", source, "-o"]).arg(&library);
            let compiled = cc.args(["-ldl", "-lpthread"]).status().unwrap();
            assert!(compiled.success(), "cc does not compile {source}");
            library
        })
    }
}

/// A new directory, in memory where there is room: what a killed process wrote is there as it is on
/// a disk. Its name has no link in it, as SQLite names its files.
pub fn new_place() -> TempDir {
    static PARENT: OnceLock<PathBuf> = OnceLock::new();
    let parent = PARENT.get_or_init(|| {
        let mut df = Command::new("df");
        let output = df.args(["-k", "--output=avail", "/dev/shm"]).output();
        let said = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned());
        let said = said.unwrap_or_default();
        let free_kib: u64 =
            said.lines().nth(1).and_then(|line| line.trim().parse().ok()).unwrap_or_default();
        let is_roomy = free_kib > ROOM_KIB;
        let place = if is_roomy { "/dev/shm".into() } else { std::env::temp_dir() };
        place.canonicalize().unwrap()
    });
    tempfile::Builder::new().prefix("capful-faults.").tempdir_in(parent).unwrap()
}

/// The program as `CAPFUL_PROGRAM` names it, else as it was built beside what runs now; built
/// where it is not there or older than the code.
pub fn built_program() -> PathBuf {
    if let Ok(named) = std::env::var("CAPFUL_PROGRAM") {
        return named.into();
    }
    let own = std::env::current_exe().unwrap();
    let profile =
        own.ancestors().find(|path| path.join("deps").is_dir() && path.join("build").is_dir());
    let program = profile.unwrap().join("capful");
    if !is_fresh(&program) {
        let mut cargo = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned()));
        cargo.args(["build", "--locked", "-p", "capful-cli"]).current_dir(ROOT);
        if profile.unwrap().ends_with("release") {
            cargo.arg("--release");
        }
        assert!(cargo.status().unwrap().success(), "the program is not built");
    }
    program
}

/// Whether a program is there and none of the files that it was built from is newer.
fn is_fresh(program: &Path) -> bool {
    let written = |path: &Path| std::fs::metadata(path).and_then(|file| file.modified()).ok();
    let Some(built) = written(program) else { return false };
    // What cargo writes beside a program: `PROGRAM: FILE FILE …`
    let files = std::fs::read_to_string(program.with_extension("d")).unwrap_or_default();
    let root = Path::new(ROOT).canonicalize().unwrap();
    let mut files = files.split_whitespace().filter(|file| Path::new(file).starts_with(&root));
    files.all(|file| written(Path::new(file)).is_some_and(|written| written <= built))
}
