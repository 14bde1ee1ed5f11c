//! What is kept of a shop between requests: its settings, its products, and what its jobs take.
//!
//! Kept for a minute, so that what another service has set up is seen soon; what is set up here is
//! seen at once ([`Shops::forget`]). What jobs take is learned once a day, from everything until
//! that day began: what a job is deducted at does not hang on what was asked a moment ago.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use capful_domain::{ExpectedPour, Id, Job, JobType, Product, SheetRow, Shop, Snapshot};
use capful_forecast::Usage;
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use tokio::sync::OnceCell;
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::page;
use crate::problem::Problem;

/// How long what was read is taken to be so.
const FRESH: TimeDelta = TimeDelta::minutes(1);

/// What is known of one shop.
pub(crate) struct Known {
    /// Its settings.
    pub shop: Shop,
    /// Its products.
    pub products: BTreeMap<Id, Product>,
    job_types: Vec<JobType>,
    sheet: Vec<SheetRow>,
    read_at: DateTime<Utc>,
    day: NaiveDate,
    usage: Arc<OnceCell<Usage>>,
}

/// The shops that were asked of.
#[derive(Default)]
pub(crate) struct Shops {
    known: Mutex<HashMap<Uuid, Arc<Known>>>,
}

impl Shops {
    fn get(&self, shop: Uuid) -> Option<Arc<Known>> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&shop).cloned()
    }

    /// Reads everything again when it is asked for next: the shop was set up otherwise.
    pub(crate) fn forget(&self, shop: Uuid) {
        self.known.lock().unwrap_or_else(PoisonError::into_inner).remove(&shop);
    }
}

/// What is known of the caller's shop; read again where one of these products is not known.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn known<'p>(
    api: &Api,
    caller: &Caller,
    products: impl IntoIterator<Item = &'p str>,
) -> Result<Arc<Known>, Problem> {
    let (before, now) = (api.known.get(caller.shop), api.now());
    if let Some(known) = &before {
        let is_known =
            |text: &str| Id::parse(text).is_ok_and(|id| known.products.contains_key(&id));
        if known.is_fresh(now) && products.into_iter().all(is_known) {
            return Ok(Arc::clone(known));
        }
    }
    let mut known = Known::read(api, caller, now).await?;
    if let Some(before) = before.filter(|before| before.is_set_up_like(&known)) {
        known.usage = Arc::clone(&before.usage);
    }
    let known = Arc::new(known);
    let mut all = api.known.known.lock().unwrap_or_else(PoisonError::into_inner);
    all.insert(caller.shop, Arc::clone(&known));
    Ok(known)
}

impl Known {
    async fn read(api: &Api, caller: &Caller, now: DateTime<Utc>) -> Result<Self, Problem> {
        let shop = api.store.shop(caller.shop).await?.row;
        let products = page::whole::<Product>(api, caller).await?;
        let job_types = page::whole::<JobType>(api, caller).await?;
        let sheet = page::whole::<SheetRow>(api, caller).await?;
        let by_id = |product: Product| (product.id.clone(), product);
        Ok(Self {
            products: products.into_iter().map(|listed| by_id(listed.row)).collect(),
            job_types: job_types.into_iter().map(|listed| listed.row).collect(),
            sheet: sheet.into_iter().map(|listed| listed.row).collect(),
            read_at: now,
            day: shop.day_of(now),
            usage: Arc::default(),
            shop,
        })
    }

    fn is_fresh(&self, now: DateTime<Utc>) -> bool {
        let age = now - self.read_at;
        age >= TimeDelta::zero() && age < FRESH && self.day == self.shop.day_of(now)
    }

    /// Whether what was learned of usage holds for the other too.
    fn is_set_up_like(&self, other: &Self) -> bool {
        self.day == other.day
            && self.shop == other.shop
            && self.products == other.products
            && self.job_types == other.job_types
            && self.sheet == other.sheet
    }

    /// What a done job is taken to have used of each product of its sheet.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn expected_for(
        &self,
        api: &Api,
        caller: &Caller,
        job: &Job,
    ) -> Result<Vec<ExpectedPour>, Problem> {
        let usage = self.usage.get_or_try_init(|| self.learn(api, caller)).await?;
        Ok(usage.expected_for(job))
    }

    async fn learn(&self, api: &Api, caller: &Caller) -> Result<Usage, Problem> {
        let facts = api.store.facts(caller.shop, None).await?;
        let began = self.shop.start_of(self.day);
        let learned =
            tokio::task::spawn_blocking(move || Usage::learn(&Snapshot::of(&facts, began)));
        learned.await.map_err(|error| Problem::internal(&error))
    }
}
