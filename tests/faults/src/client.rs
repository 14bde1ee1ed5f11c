//! Clients at work: what they ask for, and what they do where no answer comes.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::SeqCst};
use std::time::Duration;

use chrono::{Days, Utc};
use serde_json::{Value, json};

use crate::chance::Chance;
use crate::entry::{Deed, Entry, Row, Standing, Table};
use crate::http::{Answer, Ask, Client, Told};
use crate::shop::{JOB_TYPES, PRODUCTS, SUPPLIER};

/// How clients work.
#[derive(Debug)]
pub struct Work {
    pub seed: u64,
    /// Begins the id of everything that they make.
    pub name: String,
    pub clients: u64,
    /// The services that they speak to.
    pub addresses: Vec<SocketAddr>,
    pub token: String,
    /// How long they wait for an answer.
    pub patience: Duration,
    /// Of a hundred requests, those after which the client goes away.
    pub gone_percent: u64,
    /// Of a hundred requests without a certain answer, those that are sent again at once.
    pub again_percent: u64,
    /// Requests that a client sends at most.
    pub most: u64,
    /// The journal of what the service writes, where one is kept.
    pub journal: Option<PathBuf>,
    /// Set to end the work.
    pub stop: AtomicBool,
    /// Requests that were acknowledged so far.
    pub acknowledged: AtomicU64,
    /// Requests that were told nothing certain so far.
    pub uncertain: AtomicU64,
    jobs: Mutex<Vec<Job>>,
}

impl Work {
    pub fn new(seed: u64, name: &str, addresses: &[SocketAddr], token: &str) -> Self {
        Self {
            seed,
            name: name.to_owned(),
            clients: 4,
            addresses: addresses.to_vec(),
            token: token.to_owned(),
            patience: Duration::from_secs(5),
            gone_percent: 0,
            again_percent: 50,
            most: u64::MAX,
            journal: None,
            stop: AtomicBool::new(false),
            acknowledged: AtomicU64::new(0),
            uncertain: AtomicU64::new(0),
            jobs: Mutex::default(),
        }
    }

    /// Lets all clients work while `during` runs; gives what they wrote down once it ended and
    /// they stopped.
    pub fn run<T>(&self, during: impl FnOnce() -> T) -> (Vec<Entry>, T) {
        std::thread::scope(|scope| {
            let clients = (0..self.clients)
                .map(|number| scope.spawn(move || Hands::new(self, number).work()));
            let clients: Vec<_> = clients.collect();
            let done = during();
            self.stop.store(true, SeqCst);
            let entries = clients.into_iter().flat_map(|client| client.join().unwrap());
            (entries.collect(), done)
        })
    }

    /// Lets all clients work until each has sent what it sends at most.
    pub fn run_to_its_end(&self) -> Vec<Entry> {
        std::thread::scope(|scope| {
            let clients = (0..self.clients)
                .map(|number| scope.spawn(move || Hands::new(self, number).work()));
            let clients: Vec<_> = clients.collect();
            clients.into_iter().flat_map(|client| client.join().unwrap()).collect()
        })
    }
}

/// A job that is booked.
#[derive(Debug, Clone)]
struct Job {
    id: String,
    owner: u64,
    etag: String,
    products: &'static [&'static str],
}

/// One client at work.
struct Hands<'w> {
    work: &'w Work,
    number: u64,
    chance: Chance,
    client: Client,
    made: u64,
    /// Rows that may turn out to be mistakes, each with a movement of its own.
    rows: Vec<(Row, String)>,
    orders: Vec<String>,
    keys: Vec<String>,
}

impl<'w> Hands<'w> {
    fn new(work: &'w Work, number: u64) -> Self {
        let client = Client::new(work.addresses[0], &work.token, work.patience);
        let chance = Chance::new(work.seed, number + 1);
        let (rows, orders, keys) = (Vec::new(), Vec::new(), Vec::new());
        Self { work, number, chance, client, made: 0, rows, orders, keys }
    }

    fn work(mut self) -> Vec<Entry> {
        let mut entries = Vec::new();
        while !self.work.stop.load(SeqCst) && self.made < self.work.most {
            self.made += 1;
            let mut entry = self.draw();
            self.send(&mut entry);
            match entry.standing() {
                Standing::Done => {
                    self.work.acknowledged.fetch_add(1, SeqCst);
                    self.learn(&entry);
                }
                Standing::Unknown => {
                    self.work.uncertain.fetch_add(1, SeqCst);
                }
                Standing::Refused => {}
            }
            if entry.told.iter().all(|told| matches!(told, Told::Unsent(_))) {
                // Nobody heard of it.
                std::thread::sleep(Duration::from_millis(10));
                continue;
            }
            entries.push(entry);
        }
        entries
    }

    /// Sends a request, and again where nothing certain is told and the client has the patience.
    fn send(&mut self, entry: &mut Entry) {
        for attempt in 0..4 {
            let address = *self.chance.one(&self.work.addresses);
            self.client.turn_to(address);
            let told = if self.chance.percent(self.work.gone_percent) {
                let percent = *self.chance.one(&[20, 90, 100, 100, 100]);
                self.client.go_away(&entry.ask, percent)
            } else {
                self.client.ask(&entry.ask)
            };
            entry.told.push(told);
            let is_certain = entry.standing() != Standing::Unknown;
            if is_certain || attempt == 3 || !self.chance.percent(self.work.again_percent) {
                break;
            }
            std::thread::sleep(Duration::from_millis(self.chance.from(1..30)));
        }
        if let Some(journal) = &self.work.journal {
            entry.journal = std::fs::metadata(journal).map(|file| file.len()).unwrap_or_default();
        }
    }

    /// Takes over what came of a request.
    fn learn(&mut self, entry: &Entry) {
        let Some(answer) = entry.acknowledged() else { return };
        self.keys.push(entry.ask.key.clone());
        match (&entry.deed, entry.rows.as_slice()) {
            (Deed::Order { .. }, [row]) => self.orders.push(row.id.clone()),
            (Deed::Write, [row]) if row.table == Table::Job => self.booked(row, entry, answer),
            (Deed::Write | Deed::Receive { .. }, [row]) if row.table.can_be_reversed() => {
                let body: Value = serde_json::from_str(&answer.body).unwrap_or_default();
                let text = |path: &str| body.pointer(path).and_then(Value::as_str);
                let is_own = text("/movements/0/source/id") == Some(row.id.as_str());
                let movement = text("/movements/0/id").filter(|_| is_own);
                self.rows.extend(movement.map(|movement| (row.clone(), movement.to_owned())));
            }
            (Deed::Change { job, .. }, _) => {
                let mut jobs = self.work.jobs.lock().unwrap();
                if let Some(job) = jobs.iter_mut().find(|known| known.id == *job) {
                    job.etag = answer.etag.clone().unwrap_or_default();
                }
            }
            _ => {}
        }
    }

    fn booked(&self, row: &Row, entry: &Entry, answer: &Answer) {
        let is_of = |kind: &str| entry.ask.body.contains(&format!("\"{kind}\""));
        let products = JOB_TYPES.iter().find(|(kind, _)| is_of(kind)).unwrap().1;
        let etag = answer.etag.clone().unwrap_or_default();
        let job = Job { id: row.id.clone(), owner: self.number, etag, products };
        self.work.jobs.lock().unwrap().push(job);
    }

    fn name(&self, kind: &str) -> String {
        format!("{kind}-{}-{}-{}", self.work.name, self.number, self.made)
    }

    fn ask(&self, method: &'static str, path: &str, body: &Value) -> Ask {
        let body = if body.is_null() { String::new() } else { body.to_string() };
        let path = format!("/api/v1/{path}");
        Ask { method, path, key: self.name("key"), headers: String::new(), body }
    }

    fn post(&self, path: &str, body: &Value, deed: Deed, rows: Vec<Row>) -> Entry {
        Entry::new(self.ask("POST", path, body), deed, rows)
    }

    /// The next request.
    fn draw(&mut self) -> Entry {
        match self.chance.from(0..100) {
            0..24 => self.book(),
            24..44 => self.finish(),
            44..56 => self.pour(),
            56..62 => self.receive(),
            62..67 => self.count(),
            67..74 => self.order(),
            74..77 => self.mix(),
            77..80 => self.open(),
            80..83 => self.discard(),
            83..88 => self.reverse(),
            88..92 => self.change(),
            92..95 => self.product(),
            _ => self.wrong(),
        }
    }

    /// A product and about what a pour of it takes.
    fn some(&mut self) -> (&'static str, u64) {
        let (product, about) = *self.chance.one(&PRODUCTS);
        (product, about / 2 + self.chance.from(1..about + 1))
    }

    fn job_body(&mut self, id: &str) -> Value {
        let (kind, _) = self.chance.one(&JOB_TYPES);
        let day = Utc::now().date_naive() + Days::new(self.chance.from(0..9));
        json!({
            "id": id, "planned_on": day.to_string(), "job_types": [kind],
            "size": self.chance.one(&["small", "medium", "large"]),
            "condition": self.chance.from(1..6),
        })
    }

    fn book(&mut self) -> Entry {
        let id = self.name("J");
        let body = self.job_body(&id);
        self.post("jobs", &body, Deed::Write, vec![Row::new(Table::Job, &id)])
    }

    /// The end of a job of anybody's; sometimes of one that somebody else ends too.
    fn finish(&mut self) -> Entry {
        let job = {
            let mut jobs = self.work.jobs.lock().unwrap();
            let place = usize::try_from(self.chance.from(0..jobs.len().max(1) as u64)).unwrap();
            match jobs.get(place).cloned() {
                Some(job) if self.chance.percent(85) => {
                    jobs.swap_remove(place);
                    Some(job)
                }
                other => other,
            }
        };
        let Some(job) = job else { return self.book() };
        let (path, deed) = (format!("jobs/{}/finish", job.id), Deed::Finish { job: job.id });
        if self.chance.percent(30) {
            return self.post(&path, &Value::Null, deed, Vec::new());
        }
        let measured = usize::try_from(self.chance.from(1..job.products.len() as u64 + 1));
        let (mut pours, mut rows) = (Vec::new(), Vec::new());
        for (place, product) in job.products.iter().take(measured.unwrap()).enumerate() {
            let id = format!("{}-{place}", self.name("P"));
            let quantity = self.chance.from(1..90);
            pours.push(json!({ "id": id, "product": product, "quantity": quantity }));
            rows.push(Row::new(Table::Pour, &id));
        }
        let rest = *self.chance.one(&["expected", "none"]);
        self.post(&path, &json!({ "pours": pours, "rest": rest }), deed, rows)
    }

    fn pour(&mut self) -> Entry {
        let (mut pours, mut rows) = (Vec::new(), Vec::new());
        for place in 0..self.chance.from(1..4) {
            let id = format!("{}-{place}", self.name("P"));
            let (product, quantity) = self.some();
            pours.push(json!({ "id": id, "product": product, "quantity": quantity }));
            rows.push(Row::new(Table::Pour, &id));
        }
        self.post("pours", &json!(pours), Deed::Write, rows)
    }

    fn receive(&mut self) -> Entry {
        let id = self.name("R");
        let ((product, _), containers) = (self.some(), self.chance.from(1..4));
        let mut body = json!({
            "id": id, "product": product, "containers": containers, "unit_cost": "17.50",
            "lot": self.name("lot"), "best_before": "2031-05-01",
        });
        if let Some(order) = self.orders.pop() {
            body["order"] = json!(order);
        }
        let rows = vec![Row::new(Table::Receipt, &id)];
        self.post("receipts", &body, Deed::Receive { containers }, rows)
    }

    fn count(&mut self) -> Entry {
        let id = self.name("C");
        let (product, about) = self.some();
        let quantity = about * self.chance.from(20..80);
        let body = json!({ "id": id, "product": product, "quantity": quantity });
        self.post("counts", &body, Deed::Write, vec![Row::new(Table::Count, &id)])
    }

    fn order(&mut self) -> Entry {
        let id = self.name("O");
        let lines = usize::try_from(self.chance.from(1..4)).unwrap();
        let line = |(product, _): &(&str, u64)| json!({ "product": product, "packs": 2 });
        let body: Vec<Value> = PRODUCTS.iter().take(lines).map(line).collect();
        let body = json!({ "id": id, "supplier": SUPPLIER, "lines": body });
        self.post("orders", &body, Deed::Order { lines }, vec![Row::new(Table::Order, &id)])
    }

    fn mix(&mut self) -> Entry {
        let (id, quantity) = (self.name("M"), self.chance.from(200..900));
        let body = json!({ "id": id, "product": "shampoo", "quantity": quantity, "water": 9 });
        self.post("mixes", &body, Deed::Write, vec![Row::new(Table::Mix, &id)])
    }

    fn open(&mut self) -> Entry {
        let (id, (product, _)) = (self.name("N"), self.some());
        let body = json!({ "id": id, "product": product });
        self.post("openings", &body, Deed::Write, vec![Row::new(Table::Opening, &id)])
    }

    fn discard(&mut self) -> Entry {
        let (id, (product, quantity)) = (self.name("D"), self.some());
        let body = json!({ "id": id, "product": product, "quantity": quantity });
        self.post("discards", &body, Deed::Write, vec![Row::new(Table::Discard, &id)])
    }

    fn reverse(&mut self) -> Entry {
        let Some((row, movement)) = self.rows.pop() else { return self.pour() };
        let path = format!("movements/{movement}/reverse");
        self.post(&path, &Value::Null, Deed::Reverse { row }, Vec::new())
    }

    fn change(&mut self) -> Entry {
        let own = |job: &&Job| job.owner == self.number;
        let job = self.work.jobs.lock().unwrap().iter().find(own).cloned();
        let Some(job) = job else { return self.book() };
        let vehicle = self.name("vehicle");
        let mut ask =
            self.ask("PATCH", &format!("jobs/{}", job.id), &json!({ "vehicle": vehicle }));
        ask.headers = format!("if-match: {}\r\n", job.etag);
        Entry::new(ask, Deed::Change { job: job.id, vehicle }, Vec::new())
    }

    fn product(&mut self) -> Entry {
        let id = self.name("product").to_ascii_lowercase();
        let body = json!({ "name": id, "unit": "mL", "container_size": 500 });
        let mut ask = self.ask("PUT", &format!("products/{id}"), &body);
        "if-none-match: *\r\n".clone_into(&mut ask.headers);
        Entry::new(ask, Deed::Write, vec![Row::new(Table::Product, &id)])
    }

    /// Something that has to be refused whole: a job that is there, a list with a row that is
    /// wrong, a key that was used for something else.
    fn wrong(&mut self) -> Entry {
        let known = self.work.jobs.lock().unwrap().first().map(|job| job.id.clone());
        match (self.chance.from(0..3), known, self.keys.last().cloned()) {
            (0, Some(job), _) => {
                let body = self.job_body(&job);
                self.post("jobs", &body, Deed::Wrong, Vec::new())
            }
            (1, _, Some(key)) => {
                let id = self.name("J");
                let body = self.job_body(&id);
                let mut ask = self.ask("POST", "jobs", &body);
                ask.key = key;
                Entry::new(ask, Deed::Wrong, vec![Row::new(Table::Job, &id)])
            }
            _ => {
                let id = self.name("P");
                let good = json!({ "id": id, "product": "shampoo", "quantity": 10 });
                let bad = json!({ "product": "no-such-product", "quantity": 10 });
                let rows = vec![Row::new(Table::Pour, &id)];
                self.post("pours", &json!([good, bad]), Deed::Wrong, rows)
            }
        }
    }
}
