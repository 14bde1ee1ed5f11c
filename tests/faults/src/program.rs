//! The real program as a process: its commands, and the service for as long as it runs.

use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::net::SocketAddr;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::http::{Answer, Ask, Client, Told};

/// How long the service may take to say where it listens.
const START: Duration = Duration::from_secs(60);
/// How long it may take to stop when it is asked to.
const STOP: Duration = Duration::from_secs(30);

/// The built program.
#[derive(Debug, Clone)]
pub struct Program {
    path: PathBuf,
    /// Variables that are set for it.
    env: Vec<(String, String)>,
    /// The user and group that it runs as, where that is another.
    user: Option<(u32, u32)>,
}

impl Program {
    pub fn new(path: PathBuf) -> Self {
        Self { path, env: Vec::new(), user: None }
    }

    /// The same with variables set.
    #[must_use]
    pub fn with(&self, env: &[(&str, &str)]) -> Self {
        let own = env.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned()));
        let env = self.env.iter().cloned().chain(own).collect();
        Self { env, ..self.clone() }
    }

    /// The same as another user.
    #[must_use]
    pub fn as_user(&self, user: Option<(u32, u32)>) -> Self {
        Self { user, ..self.clone() }
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(&self.path);
        for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("CAPFUL_")) {
            command.env_remove(name);
        }
        command.envs(self.env.iter().map(|(name, value)| (name, value)));
        if let Some((user, group)) = self.user {
            command.uid(user).gid(group);
        }
        command.args(args).stdin(Stdio::null());
        command
    }

    /// Runs a command to its end; gives what it printed.
    ///
    /// # Errors
    /// What it said where its answer was no.
    pub fn run(&self, args: &[&str]) -> Result<String, String> {
        let output = self.command(args).output().unwrap();
        let text = |bytes| String::from_utf8_lossy(bytes).into_owned();
        if output.status.success() {
            return Ok(text(&output.stdout));
        }
        Err(format!("{args:?}: {}: {}", output.status, text(&output.stderr)))
    }

    /// Starts the service; its log goes to a file.
    ///
    /// # Errors
    /// What it said where it did not start.
    pub fn serve(&self, url: &str, log: &Path) -> Result<Service, String> {
        let log_file = File::options().create(true).append(true).open(log).unwrap();
        let mut command = self.command(&["serve", "--listen", "127.0.0.1:0", "--database", url]);
        let mut child = command.stdout(Stdio::piped()).stderr(log_file).spawn().unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (tell, told) = mpsc::channel();
        std::thread::spawn(move || {
            // Read to its end, so that the service never waits for somebody who reads.
            for line in out.lines().map_while(Result::ok) {
                let _ = tell.send(line);
            }
        });
        let begun = Instant::now();
        while let Ok(line) = told.recv_timeout(START.saturating_sub(begun.elapsed())) {
            if let Some((_, address)) = line.split_once("listens on http://") {
                let address = address.trim().parse().unwrap();
                return Ok(Service { child, address, log: log.to_owned() });
            }
        }
        let _ = child.kill();
        let status = child.wait();
        Err(format!("the service did not start: {status:?}: {}", last_lines(log)))
    }

    /// Starts the service and kills it after a while, whatever it had come to.
    pub fn serve_and_kill(&self, url: &str, after: Duration) {
        let mut command = self.command(&["serve", "--listen", "127.0.0.1:0", "--database", url]);
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(after);
        let _ = child.kill();
        let _ = child.wait();
    }
}

/// The last lines of a log.
fn last_lines(log: &Path) -> String {
    let text = std::fs::read_to_string(log).unwrap_or_default();
    let lines: Vec<&str> = text.lines().collect();
    lines[lines.len().saturating_sub(3)..].join("\n")
}

/// A running service; killed where it is dropped.
#[derive(Debug)]
pub struct Service {
    child: Child,
    pub address: SocketAddr,
    log: PathBuf,
}

impl Service {
    /// Kills it, as the power button does.
    pub fn kill(mut self) {
        self.end();
    }

    fn end(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }

    /// Asks it to stop, and waits until it has.
    ///
    /// # Errors
    /// Where it does not, or says that it did not end well.
    pub fn stop(mut self) -> Result<(), String> {
        let id = self.child.id().to_string();
        let asked = Command::new("kill").args(["-TERM", &id]).status().unwrap();
        let begun = Instant::now();
        while begun.elapsed() < STOP {
            match self.child.try_wait().unwrap() {
                Some(status) if status.success() => return Ok(()),
                Some(status) => {
                    return Err(format!("it stopped with {status}: {}", last_lines(&self.log)));
                }
                None => std::thread::sleep(Duration::from_millis(5)),
            }
        }
        Err(format!("asked to stop ({asked}), it ran on for {STOP:?}"))
    }

    /// How it ended, where it did.
    pub fn ended(&mut self) -> Option<ExitStatus> {
        self.child.try_wait().unwrap()
    }

    /// What `/readyz` answers.
    pub fn ready(&self) -> Option<Answer> {
        let mut client = Client::new(self.address, "", Duration::from_secs(5));
        match client.ask(&Ask::get("/readyz")) {
            Told::Answer(answer) => Some(answer),
            _ => None,
        }
    }

    /// Waits until `/readyz` answers 200.
    pub fn is_ready_within(&self, patience: Duration) -> bool {
        let begun = Instant::now();
        while begun.elapsed() < patience {
            if self.ready().is_some_and(|answer| answer.status == 200) {
                return true;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        false
    }

    /// What stands in its log.
    pub fn log(&self) -> String {
        let mut text = String::new();
        let read = File::open(&self.log).and_then(|mut file| file.read_to_string(&mut text));
        read.map(|_| text).unwrap_or_default()
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        self.end();
    }
}
