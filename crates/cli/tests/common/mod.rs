//! A place to work in, and services that end with the test that started them.

#![allow(clippy::unwrap_used, dead_code)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::sync::{Arc, Mutex};
use std::thread::sleep;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// What a program that ended said.
pub struct Said {
    pub code: i32,
    pub out: String,
    pub err: Vec<String>,
}

impl Said {
    fn of(program: &mut Command) -> Self {
        let Output { status, stdout, stderr } = program.output().unwrap();
        let err = String::from_utf8(stderr).unwrap();
        Self {
            code: status.code().unwrap(),
            out: String::from_utf8(stdout).unwrap(),
            err: err.lines().map(str::to_owned).collect(),
        }
    }
}

/// The built program with these arguments, where the tests were started.
pub fn capful(args: &[&str]) -> Said {
    Said::of(program().args(args))
}

/// The built program, whatever settings stand in the environment of the tests.
fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_capful"));
    for (variable, _) in std::env::vars().filter(|(name, _)| name.starts_with("CAPFUL_")) {
        program.env_remove(variable);
    }
    program
}

/// A temporary directory that the program is started in; its database is the one of the settings.
pub struct Place(TempDir);

impl Place {
    pub fn empty() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// With the demo shop of a Wednesday in the folder `shop` and in the database.
    pub fn with_demo() -> Self {
        let place = Self::empty();
        for args in [&["demo", "shop", "--as-of", "2026-03-04"][..], &["import", "shop"]] {
            let said = place.run(args);
            assert_eq!(said.code, 0, "{:?}", said.err);
        }
        place
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn run(&self, args: &[&str]) -> Said {
        self.run_in(&[], args)
    }

    /// With these variables in the environment.
    pub fn run_in(&self, env: &[(&str, &str)], args: &[&str]) -> Said {
        Said::of(self.program().envs(env.iter().copied()).args(args))
    }

    /// What a line of a shell said that was run there.
    pub fn shell(&self, line: &str) -> Said {
        Said::of(Command::new("sh").args(["-c", line]).current_dir(self.0.path()))
    }

    /// With these lines on standard input.
    pub fn run_told(&self, lines: &str, args: &[&str]) -> Said {
        let mut program = self.program();
        program.args(args).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = program.spawn().unwrap();
        child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
        let output = child.wait_with_output().unwrap();
        Said {
            code: output.status.code().unwrap(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap().lines().map(str::to_owned).collect(),
        }
    }

    pub fn token(&self, scope: &str) -> String {
        let said = self.run(&["token", "create", "--scope", scope]);
        assert_eq!(said.code, 0, "{:?}", said.err);
        said.out.trim().to_owned()
    }

    pub fn serve(&self) -> Service {
        Service::start(self, &["serve", "--listen", "127.0.0.1:0"])
    }

    fn program(&self) -> Command {
        let mut program = program();
        program.current_dir(self.0.path());
        program
    }
}

/// A service that runs until it is dropped.
pub struct Service {
    pub child: Child,
    pub url: String,
    said: Arc<Mutex<String>>,
}

impl Service {
    /// Starts it and waits until it says where it listens.
    pub fn start(place: &Place, args: &[&str]) -> Self {
        let mut program = place.program();
        let mut child =
            program.args(args).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap());
        let mut said = String::new();
        let url = loop {
            let start = said.len();
            assert!(lines.read_line(&mut said).unwrap() > 0, "it ended: {said}");
            let word = said[start..].split_whitespace().find(|word| word.starts_with("http://"));
            if let Some(word) = word {
                break word.to_owned();
            }
        };
        let said = Arc::new(Mutex::new(said));
        let rest = Arc::clone(&said);
        std::thread::spawn(move || {
            for line in lines.lines().map_while(Result::ok) {
                let mut rest = rest.lock().unwrap();
                rest.push_str(&line);
                rest.push('\n');
            }
        });
        Self { child, url, said }
    }

    /// What it said on standard output, a moment after it said where it listens.
    pub fn first_words(&self) -> String {
        sleep(Duration::from_millis(300));
        self.said.lock().unwrap().clone()
    }

    pub fn address(&self) -> String {
        self.url.trim_start_matches("http://").to_owned()
    }

    /// The status and the body of a plain request.
    pub fn get(&self, path: &str, token: Option<&str>) -> (u16, String) {
        let address = self.address();
        let mut stream = TcpStream::connect(&address).unwrap();
        let token = token.map(|t| format!("authorization: Bearer {t}\r\n")).unwrap_or_default();
        let head = format!("GET /{path} HTTP/1.0\r\nhost: {address}\r\n{token}\r\n");
        stream.write_all(head.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        (head.split(' ').nth(1).unwrap().parse().unwrap(), body.to_owned())
    }

    /// What a request that writes something down is answered, where all is well.
    pub fn post(&self, path: &str, token: &str, body: &str) -> String {
        self.post_once(path, token, &path.replace('/', "-"), body)
    }

    /// The same, with a key of its own.
    pub fn post_once(&self, path: &str, token: &str, key: &str, body: &str) -> String {
        let address = self.address();
        let mut stream = TcpStream::connect(&address).unwrap();
        let head = format!(
            "POST /{path} HTTP/1.0\r\nhost: {address}\r\nauthorization: Bearer {token}\r\n\
             idempotency-key: {key}\r\ncontent-type: application/json\r\n\
             content-length: {}\r\n\r\n{body}",
            body.len()
        );
        stream.write_all(head.as_bytes()).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        assert_eq!(head.split(' ').nth(1).unwrap().as_bytes()[0], b'2', "{answer}");
        body.to_owned()
    }

    /// Sends it a signal by its name.
    pub fn signal(&self, name: &str) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-s", name, &id]).status().unwrap().success());
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Whether a program ended in time.
#[derive(Debug, PartialEq, Eq)]
pub enum Within {
    Ended(Option<i32>),
    Runs,
}

pub fn ends_within(child: &mut Child, time: Duration) -> Within {
    let began = Instant::now();
    while began.elapsed() < time {
        if let Some(status) = child.try_wait().unwrap() {
            return Within::Ended(status.code());
        }
        sleep(Duration::from_millis(20));
    }
    Within::Runs
}
