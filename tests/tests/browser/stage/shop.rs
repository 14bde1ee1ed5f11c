//! A shop that is served in this process, on a day of the story's own.

use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use capful_api::{Api, Settings, router};
use capful_demo::demo_shop;
use capful_domain::{Facts, Snapshot};
use capful_store::{By, Change, NewToken, Scope, Store, WriteContext};
use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};
use tempfile::TempDir;
use uuid::Uuid;

use super::site::Site;

/// Seed of the demo shop's history.
const SEED: u64 = 1;
/// Longer than any page takes on a machine with much else to do.
const TIME_LIMIT: Duration = Duration::from_secs(600);
/// When a story's first day begins, on the shop's own clock.
const MORNING: NaiveTime = NaiveTime::from_hms_opt(8, 0, 0).unwrap();

/// What the small shop has written down.
pub fn two_gulls() -> Facts {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/api/tests/two-gulls");
    capful_folder::read(&folder).unwrap().facts
}

/// The service, its store, and the clock on its wall.
pub struct Shop {
    /// What is kept, for a story that looks behind the pages.
    pub store: Arc<Store>,
    /// What whoever runs the service says to become its owner.
    pub first_run_code: String,
    site: Site,
    id: Option<Uuid>,
    clock: Arc<Mutex<DateTime<Utc>>>,
    _directory: TempDir,
}

impl Shop {
    /// The demo shop at eight in the morning of a day.
    pub async fn demo(today: &str) -> Self {
        let today: NaiveDate = today.parse().unwrap();
        let facts = demo_shop(today, SEED);
        let now = facts.shop.moment(today.and_time(MORNING));
        Self::with(&facts, now).await
    }

    /// A small shop that is written down by hand, at eight on a Monday in March: three products, an
    /// order of which one bottle of two and another are still to come, two booked jobs.
    pub async fn two_gulls() -> Self {
        Self::with(&two_gulls(), "2026-03-02T12:00:00Z".parse().unwrap()).await
    }

    /// A shop with these facts.
    pub async fn with(facts: &Facts, now: DateTime<Utc>) -> Self {
        let mut shop = Self::nothing(now).await;
        let id = shop.store.new_uuid(now);
        let expected = capful_forecast::expected_pours(&Snapshot::of(facts, now));
        let change = Change::Import { facts: Box::new(facts.clone()), expected };
        shop.store.change_plainly(&WriteContext::plainly(id, now), &change).await.unwrap();
        shop.id = Some(id);
        shop
    }

    /// A service as it is first started: tables, and nothing in them.
    pub async fn nothing(now: DateTime<Utc>) -> Self {
        let directory = tempfile::tempdir().unwrap();
        let url = format!("sqlite:{}", directory.path().join("shop.db").display());
        let store = Arc::new(Store::open(&url).await.unwrap());
        store.migrate().await.unwrap();
        let clock = Arc::new(Mutex::new(now));
        let reading = Arc::clone(&clock);
        let tell = Arc::new(move || *reading.lock().unwrap());
        let settings = Settings { time_limit: TIME_LIMIT, ..Settings::default() };
        let api = Api::new(Arc::clone(&store), tell, settings);
        let first_run_code = api.first_run_code().to_owned();
        let site = Site::of(router(api)).await;
        Self { store, first_run_code, site, id: None, clock, _directory: directory }
    }

    /// The shop's own id.
    pub fn id(&self) -> Uuid {
        self.id.expect("nothing is set up")
    }

    /// What the clock on the wall says.
    pub fn now(&self) -> DateTime<Utc> {
        *self.clock.lock().unwrap()
    }

    /// Lets time pass.
    pub fn pass(&self, time: TimeDelta) {
        *self.clock.lock().unwrap() += time;
    }

    /// A new token, as text.
    pub async fn token(&self, scope: Scope) -> String {
        let text = format!("token-{}", Uuid::now_v7());
        let label = scope.word();
        let new = NewToken { shop: self.id(), text: &text, scope, label, expires_at: None };
        self.store.add_token(&new, self.now(), By::Nobody).await.unwrap();
        text
    }
}

impl AsRef<Site> for Shop {
    fn as_ref(&self) -> &Site {
        &self.site
    }
}
