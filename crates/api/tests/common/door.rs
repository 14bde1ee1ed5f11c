//! A service that knows from where it is asked, and browsers before its door that are not signed
//! in.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use capful_api::{Api, Settings, router};
use capful_store::{By, NewPerson, Person, Role, Store};
use chrono::{DateTime, TimeDelta, Utc};
use reqwest::{Client, RequestBuilder, Response, StatusCode};
use tempfile::TempDir;
use tokio::net::TcpListener;
use uuid::Uuid;

use super::monday;

/// Everybody's password.
pub const PASSWORD: &str = "a towel for every panel";

/// A service over a store of its own, or over another's.
pub struct Door {
    pub base: String,
    pub store: Arc<Store>,
    pub first_run_code: String,
    clock: Arc<Mutex<DateTime<Utc>>>,
    client: Client,
    _directory: Option<TempDir>,
}

impl Door {
    /// A service of nothing, whose proxy on this machine is trusted.
    pub async fn of_nothing() -> Self {
        let directory = tempfile::tempdir().unwrap();
        let url = format!("sqlite:{}", directory.path().join("shop.db").display());
        let store = Store::open(&url).await.unwrap();
        store.migrate().await.unwrap();
        let proxies = vec!["127.0.0.1".parse().unwrap()];
        let settings = Settings { trusted_proxies: proxies, ..Settings::default() };
        Self { _directory: Some(directory), ..Self::over(Arc::new(store), settings).await }
    }

    /// A service over a store that is there.
    pub async fn over(store: Arc<Store>, settings: Settings) -> Self {
        let clock = Arc::new(Mutex::new(monday()));
        let reading = Arc::clone(&clock);
        let tell = Arc::new(move || *reading.lock().unwrap());
        let api = Api::new(Arc::clone(&store), tell, settings);
        let first_run_code = api.first_run_code().to_owned();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let service = router(api).into_make_service_with_connect_info::<SocketAddr>();
        tokio::spawn(async move { axum::serve(listener, service).await });
        let client = super::client();
        Self { base, store, first_run_code, clock, client, _directory: None }
    }

    /// A service of a shop with an owner, `ines`.
    pub async fn with_ines() -> (Self, Person) {
        let door = Self::of_nothing().await;
        let opened = door.stranger("192.0.2.1").opens(&door.first_run_code).await;
        assert_eq!(opened.status(), StatusCode::SEE_OTHER, "{}", opened.text().await.unwrap());
        let ines = door.store.signing_in("ines").await.unwrap().unwrap().person;
        (door, ines)
    }

    /// Somebody of the shop, with everybody's password.
    pub async fn adds(&self, shop: Uuid, sign_in: &str, role: Role) -> Person {
        let password_hash = &capful_api::password_hash("password", PASSWORD).await.unwrap();
        let new = NewPerson { shop, sign_in, name: sign_in, role, password_hash };
        self.store.add_person(&new, monday(), By::Nobody).await.unwrap()
    }

    /// A browser at an address, as the proxy tells.
    pub fn stranger(&self, address: &str) -> Stranger {
        let (base, address, client) = (self.base.clone(), address.to_owned(), self.client.clone());
        Stranger { base, address, client, cookies: Mutex::default() }
    }

    /// Lets time pass.
    pub fn pass(&self, time: TimeDelta) {
        *self.clock.lock().unwrap() += time;
    }
}

/// A browser without a script: it follows nothing by itself, so that each answer is seen.
pub struct Stranger {
    base: String,
    address: String,
    client: Client,
    /// Names and values; the path that a cookie is of is not looked at.
    cookies: Mutex<Vec<(String, String)>>,
}

impl Stranger {
    fn sends(&self, request: RequestBuilder) -> RequestBuilder {
        let cookies = self.cookies.lock().unwrap();
        let pairs = cookies.iter().map(|(name, value)| format!("{name}={value}"));
        let cookies = pairs.collect::<Vec<_>>().join("; ");
        let agent = "Mozilla/5.0 (Linux; Gull 14; K) Mobile";
        let request = request.header("cookie", cookies).header("user-agent", agent);
        request.header("accept", "text/html").header("x-forwarded-for", &self.address)
    }

    fn keeps(&self, answer: &Response) {
        let mut cookies = self.cookies.lock().unwrap();
        for set in answer.headers().get_all("set-cookie") {
            let pair = set.to_str().unwrap().split(';').next().unwrap();
            let (name, value) = pair.split_once('=').unwrap();
            cookies.retain(|(own, _)| own != name);
            cookies.push((name.to_owned(), value.to_owned()));
        }
    }

    pub async fn get(&self, path: &str) -> Response {
        let request = self.sends(self.client.get(format!("{}{path}", self.base)));
        let answer = request.send().await.unwrap();
        self.keeps(&answer);
        answer
    }

    /// What a page shows where all is well.
    pub async fn sees(&self, path: &str) -> String {
        let answer = self.get(path).await;
        assert_eq!(answer.status(), StatusCode::OK, "{path}");
        answer.text().await.unwrap()
    }

    pub async fn posts(&self, path: &str, form: &[(&str, &str)]) -> Response {
        let body = serde_urlencoded::to_string(form).unwrap();
        let request = self.client.post(format!("{}{path}", self.base)).body(body);
        let request = request.header("content-type", "application/x-www-form-urlencoded");
        let answer = self.sends(request).send().await.unwrap();
        self.keeps(&answer);
        answer
    }

    /// Sends a form of a page of this session.
    pub async fn fills(&self, path: &str, form: &[(&str, &str)]) -> Response {
        self.fills_as(&Uuid::now_v7().to_string(), path, form).await
    }

    /// The same, under a key.
    pub async fn fills_as(&self, key: &str, path: &str, form: &[(&str, &str)]) -> Response {
        let session: serde_json::Value =
            serde_json::from_str(&self.sees("/session").await).unwrap();
        let own = [("csrf", session["csrf"].as_str().unwrap()), ("key", key)];
        self.posts(path, &[&own[..], form].concat()).await
    }

    /// Tries to sign in.
    pub async fn tries(&self, sign_in: &str, password: &str) -> Response {
        self.posts("/sign-in", &[("sign_in", sign_in), ("password", password)]).await
    }

    /// Signs in.
    pub async fn signs_in(&self, sign_in: &str) {
        let answer = self.tries(sign_in, PASSWORD).await;
        assert_eq!(answer.status(), StatusCode::SEE_OTHER, "{}", answer.text().await.unwrap());
    }

    /// Forgets a cookie.
    pub fn forgets(&self, name: &str) {
        self.cookies.lock().unwrap().retain(|(own, _)| own != name);
    }

    /// Sends the form of the first run.
    pub async fn opens(&self, code: &str) -> Response {
        let form = [
            ("code", code),
            ("shop", "Low Tide"),
            ("timezone", "America/Halifax"),
            ("currency", "CAD"),
            ("name", "Ines"),
            ("sign_in", "ines"),
            ("password", PASSWORD),
        ];
        self.posts("/welcome", &form).await
    }
}
