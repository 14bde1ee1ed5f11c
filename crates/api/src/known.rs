//! What is kept of a shop between requests: its settings, its products, and what its jobs take.
//!
//! Before it is used it is held against the database: a shop has a stamp, which changes with every
//! row that is set up, by this service, by another one or by an import beside it. The stamp is read
//! before the rows that it is kept with, so that rows which were read while somebody wrote are kept
//! under the stamp of before, and are read again by whoever asks next.
//!
//! What jobs take is learned once a day, from everything until that day began: what a job is
//! deducted at does not hang on what was asked a moment ago.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use capful_domain::{
    Condition, ExpectedPour, Id, Job, JobType, Product, SheetRow, Shop, Snapshot, VehicleSize,
};
use capful_forecast::Usage;
use capful_forecast::plan::UsageRow;
use capful_store::{SetupVersion, Store};
use chrono::{DateTime, NaiveDate, Utc};
use tokio::sync::OnceCell;
use tracing::Instrument;
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::page;
use crate::problem::Problem;

/// What is known of one shop.
pub(crate) struct Known {
    /// Its settings.
    pub shop: Shop,
    /// Its products.
    pub products: BTreeMap<Id, Product>,
    /// What it sells, in the order of its list.
    pub job_types: Vec<JobType>,
    /// What its owner expects that to take.
    pub sheet: Vec<SheetRow>,
    stamp: SetupVersion,
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

    fn keep(&self, shop: Uuid, known: &Arc<Known>) {
        let mut all = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        all.insert(shop, Arc::clone(known));
    }
}

/// What is known of the caller's shop.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn known(api: &Api, caller: &Caller) -> Result<Arc<Known>, Problem> {
    let stamp = caller.set_up;
    let (before, now) = (api.known.get(caller.shop), api.now());
    if let Some(known) = &before
        && known.stamp == stamp
        && known.day == known.shop.day_of(now)
    {
        return Ok(Arc::clone(known));
    }
    let mut known = Known::read(api, caller, stamp, now).await?;
    if let Some(before) = before.filter(|before| before.is_set_up_like(&known)) {
        known.usage = Arc::clone(&before.usage);
    }
    let known = Arc::new(known);
    api.known.keep(caller.shop, &known);
    Ok(known)
}

impl Known {
    async fn read(
        api: &Api,
        caller: &Caller,
        stamp: SetupVersion,
        now: DateTime<Utc>,
    ) -> Result<Self, Problem> {
        let shop = api.store.shop(caller.shop).await?.row;
        let products = page::whole::<Product>(api, caller).await?;
        let job_types = page::whole::<JobType>(api, caller).await?;
        let sheet = page::whole::<SheetRow>(api, caller).await?;
        let by_id = |product: Product| (product.id.clone(), product);
        Ok(Self {
            products: products.into_iter().map(|listed| by_id(listed.row)).collect(),
            job_types: job_types.into_iter().map(|listed| listed.row).collect(),
            sheet: sheet.into_iter().map(|listed| listed.row).collect(),
            stamp,
            day: shop.day_of(now),
            usage: Arc::default(),
            shop,
        })
    }

    /// Whether what was learned of usage holds for the other too.
    fn is_set_up_like(&self, other: &Self) -> bool {
        self.day == other.day
            && self.shop == other.shop
            && self.products == other.products
            && self.job_types == other.job_types
            && self.sheet == other.sheet
    }

    /// What a job type is called.
    pub(crate) fn job_type_name<'k>(&'k self, id: &'k Id) -> &'k str {
        let own = self.job_types.iter().find(|own| own.id == *id);
        own.map_or(id.as_str(), |own| own.name.as_str())
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
        let learned = self.learned(api, caller).await?;
        Ok(learned.get().map(|usage| usage.expected_for(job)).unwrap_or_default())
    }

    /// What jobs of a size and a condition take, as learned until the day began.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn usage_at(
        &self,
        api: &Api,
        caller: &Caller,
        size: VehicleSize,
        condition: Condition,
    ) -> Result<Vec<UsageRow>, Problem> {
        let learned = self.learned(api, caller).await?;
        Ok(learned.get().map(|usage| usage.rows_at(size, condition)).unwrap_or_default())
    }

    async fn learned(&self, api: &Api, caller: &Caller) -> Result<Arc<OnceCell<Usage>>, Problem> {
        if self.usage.initialized() {
            return Ok(Arc::clone(&self.usage));
        }
        // Learned in a task of its own, which goes on where the request that began it ends early:
        // the others wait for it, and none learns the same beside it.
        let (cell, store) = (Arc::clone(&self.usage), Arc::clone(&api.store));
        let (shop, began) = (caller.shop, self.shop.start_of(self.day));
        let learning = async move {
            cell.get_or_try_init(|| learn(&store, shop, began)).await?;
            Ok::<_, Problem>(cell)
        };
        let learned = tokio::spawn(learning.in_current_span()).await;
        learned.map_err(|error| Problem::internal(&error))?
    }
}

/// What jobs take, from everything until a day began.
async fn learn(store: &Store, shop: Uuid, began: DateTime<Utc>) -> Result<Usage, Problem> {
    let facts = store.facts(shop, None).await?;
    let learned = tokio::task::spawn_blocking(move || Usage::learn(&Snapshot::of(&facts, began)));
    learned.await.map_err(|error| Problem::internal(&error))
}
