//! A shop as a question sees it: what was written down until a moment, and the books of then.

use std::collections::BTreeMap;

use capful_domain::{AsOf, Container, Id, Ledger, Product, Shop, Snapshot};
use chrono::{DateTime, Utc};

use crate::api::Api;
use crate::auth::Caller;
use crate::page;
use crate::params::moment;
use crate::problem::Problem;

/// What was written down until a moment.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn snapshot(
    api: &Api,
    caller: &Caller,
    as_of: Option<AsOf>,
) -> Result<Snapshot, Problem> {
    let at = asked_moment(api, caller, as_of).await?;
    let facts = api.store.facts(caller.shop, at).await?;
    Ok(Snapshot::of(&facts, at.unwrap_or_else(|| api.now())))
}

/// The moment that is asked for, where one is.
pub(crate) async fn asked_moment(
    api: &Api,
    caller: &Caller,
    as_of: Option<AsOf>,
) -> Result<Option<DateTime<Utc>>, Problem> {
    let Some(as_of) = as_of else { return Ok(None) };
    let shop = api.store.shop(caller.shop).await?.row;
    Ok(moment(Some(as_of), &shop))
}

/// The same with its ledger: now the books as they stand, for another moment the rows until then
/// added up again.
pub(crate) async fn books(
    api: &Api,
    caller: &Caller,
    as_of: Option<AsOf>,
) -> Result<(Snapshot, Ledger), Problem> {
    if as_of.is_none() {
        return Ok(api.store.standing(caller.shop, api.now()).await?);
    }
    let snapshot = snapshot(api, caller, as_of).await?;
    let added_up = move || {
        let ledger = snapshot.ledger(&capful_forecast::expected_pours(&snapshot));
        (snapshot, ledger)
    };
    tokio::task::spawn_blocking(added_up).await.map_err(|e| Problem::internal(&e))
}

/// The containers of a shop, and what is needed to read them.
pub(crate) struct Shelf {
    pub shop: Shop,
    pub products: BTreeMap<Id, Product>,
    pub containers: Vec<Container>,
}

/// A shop's settings and its products.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn catalog(
    api: &Api,
    caller: &Caller,
) -> Result<(Shop, BTreeMap<Id, Product>), Problem> {
    let shop = api.store.shop(caller.shop).await?.row;
    let products = page::whole::<Product>(api, caller).await?;
    let by_id = products.into_iter().map(|listed| (listed.row.id.clone(), listed.row));
    Ok((shop, by_id.collect()))
}

/// The containers of a shop, or of one of its products, in the order they came.
///
/// # Errors
/// [`Problem`] where the store does not answer.
pub(crate) async fn shelf(
    api: &Api,
    caller: &Caller,
    as_of: Option<AsOf>,
    product: Option<&Id>,
) -> Result<Shelf, Problem> {
    if as_of.is_some() {
        let (snapshot, ledger) = books(api, caller, as_of).await?;
        let of_product = |c: &&Container| product.is_none_or(|product| c.product == *product);
        return Ok(Shelf {
            products: snapshot
                .facts
                .products
                .into_iter()
                .map(|product| (product.id.clone(), product))
                .collect(),
            containers: ledger.containers().iter().filter(of_product).cloned().collect(),
            shop: snapshot.facts.shop,
        });
    }
    let (shop, products) = catalog(api, caller).await?;
    Ok(Shelf {
        shop,
        products,
        containers: api.store.containers(caller.shop, product, false).await?,
    })
}
