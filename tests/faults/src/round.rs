//! One round: a database of its own, work and faults in it, and the judgement at its end.

use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering::SeqCst;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::books;
use crate::chance::Chance;
use crate::client::Work;
use crate::entry::{Entry, Standing};
use crate::figures::Figures;
use crate::http::{Client, Told};
use crate::judge::judge;
use crate::program::{Program, Service};
use crate::stage::{Stage, new_place};

/// How long a request may be told nothing certain once the fault is over.
const BACK: Duration = Duration::from_secs(30);
/// How long work is waited for.
const MOMENT: Duration = Duration::from_secs(4);
/// Requests that are sent again at the end of a round to see their answers given again.
const REPLAYED: usize = 100;

/// One round.
#[derive(Debug)]
pub struct Round<'s> {
    pub stage: &'s Stage,
    pub seed: u64,
    pub chance: Chance,
    pub place: TempDir,
    /// The database.
    pub url: String,
    pub token: String,
    pub entries: Vec<Entry>,
    pub figures: Figures,
    /// Of a hundred requests without a certain answer, those that are sent again at the end.
    pub settled_percent: u64,
    /// How many of them at most.
    pub settled_most: usize,
    /// Entries from here on are of the last work.
    last: usize,
    works: u64,
}

impl<'s> Round<'s> {
    fn new(stage: &'s Stage, seed: u64, url: String, token: String, place: TempDir) -> Self {
        Self {
            stage,
            seed,
            chance: Chance::new(seed, 0),
            place,
            url,
            token,
            entries: Vec::new(),
            figures: Figures::default(),
            settled_percent: 70,
            settled_most: usize::MAX,
            last: 0,
            works: 0,
        }
    }

    /// A round in an SQLite file.
    pub fn on_sqlite(stage: &'s Stage, seed: u64) -> Self {
        let place = new_place();
        let file = place.path().join("shop.db");
        let token = stage.copy_shop(&file);
        Self::new(stage, seed, format!("sqlite://{}", file.display()), token, place)
    }

    /// A round in a database of the run's PostgreSQL.
    pub fn on_postgres(stage: &'s Stage, seed: u64) -> Self {
        let (cluster, token) = stage.postgres();
        let url = cluster.copy_shop();
        Self::new(stage, seed, url, token.clone(), new_place())
    }

    /// The file of the database, where it is SQLite's.
    pub fn file(&self) -> PathBuf {
        Path::new(self.url.strip_prefix("sqlite://").unwrap()).to_owned()
    }

    /// Starts the service.
    pub fn serve(&mut self, program: &Program) -> Option<Service> {
        let served = program.serve(&self.url, &self.place.path().join("log"));
        served.map_err(|why| self.figures.otherwise(why)).ok()
    }

    /// Starts the service as it is, which has to succeed.
    pub fn open(&mut self) -> Option<Service> {
        let program = self.stage.program.clone();
        self.serve(&program)
    }

    /// Work for the clients of these services.
    pub fn work(&mut self, services: &[&Service]) -> Work {
        self.works += 1;
        let addresses: Vec<_> = services.iter().map(|service| service.address).collect();
        let name = format!("{}", self.works);
        Work::new(self.chance.bits(), &name, &addresses, &self.token)
    }

    /// Takes over what clients wrote down.
    pub fn take(&mut self, entries: Vec<Entry>) {
        self.last = self.entries.len();
        for entry in &entries {
            match entry.standing() {
                Standing::Done => self.figures.acknowledged += 1,
                Standing::Refused => self.figures.refused += 1,
                Standing::Unknown => self.figures.unknown += 1,
            }
        }
        self.not_so(&entries);
        self.entries.extend(entries);
    }

    /// What the service cannot do just now is answered 503, with when to come again.
    fn not_so(&mut self, entries: &[Entry]) {
        let answers = entries.iter().flat_map(|entry| &entry.told);
        let wrong = answers.filter_map(|told| match told {
            Told::Answer(answer) if answer.status >= 500 => Some(answer),
            _ => None,
        });
        let is_right =
            |status, retry_after: &Option<String>| status == 503 && retry_after.is_some();
        let wrong: Vec<_> =
            wrong.filter(|answer| !is_right(answer.status, &answer.retry_after)).collect();
        if let Some(first) = wrong.first() {
            let (number, status, why) = (wrong.len(), first.status, self.logged(&first.body));
            self.figures.otherwise(format!(
                "{number} answers from 500 on are no 503 with Retry-After, such as {status}: {why}"
            ));
        }
    }

    /// What the log says of the request that was answered with a problem; else the problem.
    fn logged(&self, problem: &str) -> String {
        let read: serde_json::Value = serde_json::from_str(problem).unwrap_or_default();
        let id = read["request_id"].as_str().unwrap_or("no id");
        let log = std::fs::read_to_string(self.place.path().join("log")).unwrap_or_default();
        let mut lines = log.lines().filter(|line| line.contains(id) && line.contains("\"cause\""));
        lines.next().unwrap_or(problem).to_owned()
    }

    /// Sends most of what was told nothing certain again, until it is; then holds all that was told
    /// against the books, and asks for some answers again.
    pub fn judge(&mut self, service: &Service) {
        let mut client = Client::new(service.address, &self.token, Duration::from_secs(10));
        self.settle(&mut client);
        let lost = self.figures.lost;
        match books::read(&self.url) {
            Ok(books) => judge(&self.entries, &books, &mut self.figures),
            Err(why) => self.figures.otherwise(why),
        }
        // What was lost would be done now, and told of twice.
        if self.figures.lost == lost {
            self.replay(&mut client);
        }
        if let Err(said) = self.stage.program.run(&["check", "--database", &self.url]) {
            self.figures.wrong_books(&[said]);
        }
    }

    fn settle(&mut self, client: &mut Client) {
        let unknown = self.entries[self.last..].iter_mut();
        let unknown = unknown.filter(|entry| entry.standing() == Standing::Unknown);
        for entry in unknown.take(self.settled_most) {
            if !self.chance.percent(self.settled_percent) {
                continue;
            }
            let begun = Instant::now();
            while entry.standing() == Standing::Unknown && begun.elapsed() < BACK {
                entry.told.push(client.ask(&entry.ask));
                if entry.standing() == Standing::Unknown {
                    std::thread::sleep(Duration::from_millis(20));
                }
            }
            if entry.standing() == Standing::Unknown {
                let story = entry.story();
                self.figures.otherwise(format!("nothing certain for {BACK:?}: {story}"));
                return;
            }
        }
    }

    /// The same request again gets the same answer, and is not done again.
    fn replay(&mut self, client: &mut Client) {
        let last = self.entries[self.last..].iter();
        let done: Vec<&Entry> = last.filter(|entry| entry.acknowledged().is_some()).collect();
        let step = done.len().div_ceil(REPLAYED).max(1);
        for entry in done.into_iter().step_by(step) {
            let Some(before) = entry.acknowledged() else { continue };
            let is_same = |again: &crate::http::Answer| {
                again.is_replayed && (again.status, &again.body) == (before.status, &before.body)
            };
            match client.ask(&entry.ask) {
                Told::Answer(again) if is_same(&again) => {}
                Told::Answer(again) if (200..300).contains(&again.status) => {
                    self.figures.doubled(format!("{}: done again", entry.story()));
                }
                told => self.figures.lost(format!("{}: again: {told:?}", entry.story())),
            }
        }
    }

    /// Stops the service, which has to end well, and gives what the round came to.
    pub fn end(mut self, service: Option<Service>) -> Figures {
        if let Some(Err(why)) = service.map(Service::stop) {
            self.figures.otherwise(why);
        }
        if self.url.starts_with("postgres:") {
            self.stage.postgres().0.forget(&self.url);
        }
        self.figures.rounds += 1;
        self.figures
    }

    /// Waits until more requests are acknowledged: the service is back, and was not started anew.
    pub fn is_back(&mut self, work: &Work, after: &str) {
        let (before, begun) = (work.acknowledged.load(SeqCst), Instant::now());
        while work.acknowledged.load(SeqCst) < before + 5 {
            if begun.elapsed() > BACK {
                self.figures.otherwise(format!("no work is done {BACK:?} after {after}"));
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Lets clients work until so many more requests are acknowledged, for a few seconds at most,
    /// and a moment longer.
    pub fn pass_with(&mut self, work: &Work, acknowledged: std::ops::Range<u64>) {
        let most = work.acknowledged.load(SeqCst) + self.chance.from(acknowledged);
        let begun = Instant::now();
        while work.acknowledged.load(SeqCst) < most && begun.elapsed() < MOMENT {
            std::thread::sleep(Duration::from_millis(1));
        }
        self.pass(0..40);
    }

    /// Lets a moment pass, of so many milliseconds.
    pub fn pass(&mut self, milliseconds: std::ops::Range<u64>) {
        std::thread::sleep(Duration::from_millis(self.chance.from(milliseconds)));
    }
}
