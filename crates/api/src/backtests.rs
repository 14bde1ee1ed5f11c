//! Backtests: made when an owner asks, on threads of their own, one at a time, and kept for the
//! day.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use capful_forecast::backtest::{Backtest, BacktestSettings, backtest};
use chrono::NaiveDate;
use tracing::Instrument;
use uuid::Uuid;

use crate::api::Api;
use crate::auth::Caller;
use crate::known::known;
use crate::params::Seed;
use crate::problem::Problem;

/// How far a shop's backtest of a day has come.
#[derive(Debug, Clone)]
pub(crate) enum Standing {
    /// It is being made.
    Making,
    /// There is too little history, as the text says.
    TooShort(String),
    /// It is made.
    Made(Arc<Backtest>),
}

/// The last backtest of each shop.
#[derive(Debug, Default)]
pub(crate) struct Backtests {
    shops: Mutex<HashMap<Uuid, (NaiveDate, Standing)>>,
    /// One takes every core: a second one at the same time makes both slower.
    alone: tokio::sync::Mutex<()>,
}

impl Backtests {
    fn shops(&self) -> MutexGuard<'_, HashMap<Uuid, (NaiveDate, Standing)>> {
        self.shops.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Notes that one is being made; `false` where that is so already.
    fn begin(&self, shop: Uuid, day: NaiveDate) -> bool {
        let mut shops = self.shops();
        let is_making = matches!(shops.get(&shop), Some((_, Standing::Making)));
        if !is_making {
            shops.insert(shop, (day, Standing::Making));
        }
        !is_making
    }

    fn end(&self, shop: Uuid, day: NaiveDate, standing: Option<Standing>) {
        match standing {
            Some(standing) => self.shops().insert(shop, (day, standing)),
            None => self.shops().remove(&shop),
        };
    }
}

/// How far the caller's backtest of today has come; nothing where none was asked for.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn today(api: &Api, caller: &Caller) -> Result<Option<Standing>, Problem> {
    let day = known(api, caller).await?.shop.day_of(api.now());
    let shops = api.backtests.shops();
    let own = shops.get(&caller.shop);
    let is_of_today = |(of, standing): &&(NaiveDate, Standing)| {
        *of == day || matches!(standing, Standing::Making)
    };
    Ok(own.filter(is_of_today).map(|(_, standing)| standing.clone()))
}

/// Makes the caller's backtest of today to its end, also where the request for it ends early.
///
/// # Errors
/// [`Problem`] where the store does not answer or the planner fails.
pub(crate) async fn make(api: &Api, caller: &Caller) -> Result<(), Problem> {
    let day = known(api, caller).await?.shop.day_of(api.now());
    let shop = caller.shop;
    if !api.backtests.begin(shop, day) {
        return Ok(());
    }
    let own = api.clone();
    let making = async move {
        let made = made(&own, shop).await;
        let standing = made.as_ref().ok().cloned();
        own.backtests.end(shop, day, standing);
        made.map(|_| ())
    };
    let made = tokio::spawn(making.in_current_span()).await;
    made.map_err(|error| Problem::internal(&error))?
}

async fn made(api: &Api, shop: Uuid) -> Result<Standing, Problem> {
    let _alone = api.backtests.alone.lock().await;
    let now = api.now();
    let facts = api.store.facts(shop, Some(now)).await?;
    let plan = api.settings.plan.clone();
    let told = tokio::task::spawn_blocking(move || {
        let (settings, Seed(seed)) =
            (BacktestSettings { plan, ..BacktestSettings::default() }, Seed::default());
        backtest(&facts, now, &settings, seed, &|_, _| {})
    });
    Ok(match told.await.map_err(|error| Problem::internal(&error))? {
        Ok(told) => Standing::Made(Arc::new(told)),
        Err(short) => Standing::TooShort(short.to_string()),
    })
}
