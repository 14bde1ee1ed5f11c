//! One person's browser before a service.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::time::Duration;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tokio::sync::{Semaphore, SemaphorePermit};
use url::Position;

use super::cdp::{Cdp, ConsoleLog};
use super::line::{Gate, Line};
use super::look::Look;
use super::site::Site;

/// Where the demo shop stands, and so the people before its pages.
const TIMEZONE: &str = "America/Halifax";

/// No network is looked for beside the service's, and no window is opened.
const FLAGS: [&str; 13] = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-breakpad",
    "--hide-scrollbars",
    "--force-device-scale-factor=1",
    "--lang=en-CA",
];

/// Long, for a machine with much else to do: it is spent only where a story fails.
const PATIENCE: Duration = Duration::from_secs(60);

/// How long a page may take to load, and the script that looks through one to run.
const LONGEST: Duration = Duration::from_secs(300);

/// What a page gives up on after some seconds, because a phone may have no signal, it waits for
/// here: whether there is signal is for the story to say, and not for how busy the machine is.
const NEVER_TOO_LATE: &str = "AbortSignal.timeout = () => new AbortController().signal;";

/// Stories that are played at once in one process.
static PLAYED: Semaphore = Semaphore::const_new(2);

/// Where a story is played: there is a browser for it.
pub struct Stage {
    driver: String,
    _turn: SemaphorePermit<'static>,
}

impl Stage {
    /// Nothing where no browser is told of, as `scripts/test` does.
    pub async fn set() -> Option<Self> {
        let Ok(driver) = std::env::var("CAPFUL_TEST_BROWSER") else {
            eprintln!("passed over: `scripts/browser` runs this test beside a browser");
            return None;
        };
        Some(Self { driver, _turn: PLAYED.acquire().await.unwrap() })
    }

    /// Somebody's browser before a service, with nothing open and nothing remembered.
    pub async fn before(&self, site: impl AsRef<Site>, look: Look) -> Browser {
        let mut capabilities = Capabilities::new();
        capabilities.insert("browserName".to_owned(), json!("chrome"));
        capabilities.insert("goog:chromeOptions".to_owned(), json!({ "args": FLAGS }));
        let longest = u64::try_from(LONGEST.as_millis()).unwrap();
        let longest = json!({ "script": longest, "pageLoad": longest, "implicit": 0 });
        capabilities.insert("timeouts".to_owned(), longest);
        // What pages are kept from by their policy is told there.
        capabilities.insert("goog:loggingPrefs".to_owned(), json!({ "browser": "ALL" }));
        let mut builder = ClientBuilder::new(HttpConnector::new());
        let connected = builder.capabilities(capabilities).connect(&self.driver).await;
        let client = connected.expect("the driver opens a browser");
        let session = client.session_id().await.unwrap().unwrap();
        let gate = Gate::before(site.as_ref().address).await;
        let (driver, patience) = (self.driver.clone(), PATIENCE);
        let browser = Browser { client, look, patience, gate, driver, session };
        browser.set_up().await;
        browser
    }
}

/// A browser, which is closed when it is let go of.
///
/// Whatever it is asked to find it waits for, for some seconds; then the story fails, and says what
/// is there instead.
pub struct Browser {
    /// The session itself, for what is not here.
    pub client: Client,
    /// What is looked with.
    pub look: Look,
    /// The longest that anything is waited for.
    pub patience: Duration,
    gate: Gate,
    driver: String,
    session: String,
}

impl Browser {
    async fn set_up(&self) {
        let Look { width, height, in_hand, dark, scripts } = self.look;
        let size =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": in_hand });
        self.tell("Emulation.setDeviceMetricsOverride", size).await;
        let touch = json!({ "enabled": in_hand, "maxTouchPoints": if in_hand { 5 } else { 1 } });
        self.tell("Emulation.setTouchEmulationEnabled", touch).await;
        let colours = if dark { "dark" } else { "light" };
        let wish = json!([{ "name": "prefers-color-scheme", "value": colours }]);
        self.tell("Emulation.setEmulatedMedia", json!({ "features": wish })).await;
        self.tell("Emulation.setTimezoneOverride", json!({ "timezoneId": TIMEZONE })).await;
        self.let_scripts_run(scripts).await;
        let patient = json!({ "source": NEVER_TOO_LATE });
        self.tell("Page.addScriptToEvaluateOnNewDocument", patient).await;
        self.tell("Network.enable", json!({})).await;
    }

    pub(super) async fn let_scripts_run(&self, run: bool) {
        self.tell("Emulation.setScriptExecutionDisabled", json!({ "value": !run })).await;
    }

    /// A command of Chromium's DevTools protocol.
    pub async fn tell(&self, command: &str, params: Value) -> Value {
        let told = self.client.issue_cmd(Cdp::new(command, &params)).await;
        told.unwrap_or_else(|error| panic!("{command} {params}: {error}"))
    }

    /// What the console said since it was asked last: each line with where it comes from.
    pub async fn console(&self) -> Vec<String> {
        let told = self.client.issue_cmd(ConsoleLog).await.unwrap();
        let line = |entry: &Value| {
            let text = |name: &str| entry[name].as_str().unwrap_or_default().to_owned();
            format!("{}: {}", text("source"), text("message"))
        };
        told.as_array().unwrap().iter().map(line).collect()
    }

    /// Runs the stage's own script beside the page, whether the page's own may run or not:
    /// `run` is its last line, and `arguments` are what it is given.
    pub async fn ask(&self, run: &str, arguments: Vec<Value>) -> Value {
        let asked = self.try_ask(run, arguments).await;
        asked.unwrap_or_else(|error| panic!("{run}: {error}"))
    }

    /// The same, where a page may be on its way.
    pub(super) async fn try_ask(&self, run: &str, arguments: Vec<Value>) -> Result<Value, String> {
        let script = format!("{}\n{run}", include_str!("page.js"));
        self.client.execute(&script, arguments).await.map_err(|error| error.to_string())
    }

    /// The full address of a path of the service, as this browser reaches it.
    pub fn address(&self, path: &str) -> String {
        format!("http://{}{path}", self.gate.address)
    }

    /// Goes to a page of the service.
    pub async fn open(&self, path: &str) {
        self.try_open(path).await.unwrap_or_else(|error| panic!("{path} does not open: {error}"));
    }

    /// Goes to a page of the service; why not, where it does not open.
    pub async fn try_open(&self, path: &str) -> Result<(), String> {
        let went = self.client.goto(&self.address(path)).await;
        self.stay_offline().await;
        went.map_err(|error| error.to_string())
    }

    /// Sends a token with each request of its pages from now on.
    pub async fn carries(&self, token: &str) {
        let headers = json!({ "Authorization": format!("Bearer {token}") });
        self.tell("Network.setExtraHTTPHeaders", json!({ "headers": headers })).await;
    }

    /// Opens the same page again.
    pub async fn reload(&self) {
        self.client.refresh().await.unwrap();
        self.stay_offline().await;
    }

    /// Goes back to the page before.
    pub async fn back(&self) {
        self.client.back().await.unwrap();
        self.stay_offline().await;
    }

    /// The path and query of the open page.
    pub async fn path(&self) -> String {
        let url = self.client.current_url().await.unwrap();
        url[Position::BeforePath..Position::AfterQuery].to_owned()
    }

    /// Cuts the network off, for pages and for service workers alike, until [`Self::go_online`].
    pub async fn go_offline(&self) {
        self.gate.set(Line::Down);
        self.set_offline(true).await;
    }

    /// Mends the network.
    pub async fn go_online(&self) {
        self.gate.set(Line::Up);
        self.set_offline(false).await;
    }

    /// A page that is opened while the network is cut off starts out as if it were not.
    async fn stay_offline(&self) {
        if self.gate.is(Line::Down) {
            self.set_offline(true).await;
        }
    }

    /// From now on requests arrive and are done, but no answer comes back, until
    /// [`Self::go_online`]. The browser believes that it is online.
    pub fn lose_answers(&self) {
        self.gate.set(Line::AnswersLost);
    }

    /// What pages are told of the network: `navigator.onLine` and its events.
    async fn set_offline(&self, offline: bool) {
        let unlimited = json!({
            "offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1,
        });
        self.tell("Network.emulateNetworkConditions", unlimited).await;
    }

    /// Everything that the open page took off the network so far, headers and all, as it was sent.
    pub async fn page_bytes(&self) -> u64 {
        self.loaded().await;
        self.ask("return sentBytes();", vec![]).await.as_u64().unwrap()
    }

    /// Draws the whole page into `target/screens/NAME-390.png`, by its width and colours.
    pub async fn screenshot(&self, name: &str) {
        self.loaded().await;
        let sizes = self.tell("Page.getLayoutMetrics", json!({})).await;
        let height = sizes["cssContentSize"]["height"].as_f64().unwrap();
        let height = height.max(self.look.height.into());
        let clip =
            json!({ "x": 0, "y": 0, "width": self.look.width, "height": height, "scale": 1 });
        let whole = json!({ "format": "png", "captureBeyondViewport": true, "clip": clip });
        let drawn = self.tell("Page.captureScreenshot", whole).await;
        let png = STANDARD.decode(drawn["data"].as_str().unwrap()).unwrap();
        let screens = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/screens");
        fs::create_dir_all(&screens).unwrap();
        fs::write(screens.join(format!("{name}-{}.png", self.look.suffix())), png).unwrap();
    }
}

impl Drop for Browser {
    /// Also where a story has failed, and nothing can be waited for any more.
    fn drop(&mut self) {
        let Some(driver) = self.driver.strip_prefix("http://") else { return };
        let Ok(mut line) = TcpStream::connect(driver) else { return };
        let (host, session) = (driver, &self.session);
        let close = format!(
            "DELETE /session/{session} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        );
        if line.write_all(close.as_bytes()).is_ok() {
            let _ = line.read(&mut [0]);
        }
    }
}
