//! A service of its own process, for as long as it is measured.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// The running service.
pub struct Running {
    child: Child,
    pub address: String,
    pub token: String,
    started_in: Duration,
    idle_kib: u64,
}

impl Running {
    /// Imports the folder into the database, makes a token, starts the service.
    pub fn start(program: &str, url: &str, folder: &Path) -> Self {
        run(program, &["import", folder.to_str().unwrap(), "--database", url]);
        let token = run(program, &["token", "create", "--scope", "setup", "--database", url]);
        let begun = Instant::now();
        let mut child = capful(program)
            .args(["serve", "--listen", "127.0.0.1:0", "--database", url])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let address = loop {
            let line = lines.next().unwrap().unwrap();
            if let Some((_, address)) = line.split_once("http://") {
                break address.trim().to_owned();
            }
        };
        let started_in = begun.elapsed();
        std::thread::sleep(Duration::from_secs(1));
        let idle_kib = resident_kib(child.id());
        let token = token.trim().to_owned();
        Self { child, address, token, started_in, idle_kib }
    }

    /// How soon it started, and what it held before and holds after its work.
    pub fn idle(&self, name: &str) -> String {
        let mib = |kib: u64| kib as f64 / 1024.0;
        format!(
            "{name}: started in {:.0} ms, {:.1} MiB idle, {:.1} MiB after its work",
            self.started_in.as_secs_f64() * 1e3,
            mib(self.idle_kib),
            mib(resident_kib(self.child.id())),
        )
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn capful(program: &str) -> Command {
    let mut capful = Command::new(program);
    for (variable, _) in std::env::vars().filter(|(name, _)| name.starts_with("CAPFUL_")) {
        capful.env_remove(variable);
    }
    capful
}

fn run(program: &str, args: &[&str]) -> String {
    let output = capful(program).args(args).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// `VmRSS` of a process; 0 where the system does not say.
fn resident_kib(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    number.unwrap_or_default()
}
